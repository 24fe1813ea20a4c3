"""The slipway pump: a three-phase induction motor with a cage, in star or delta, one shaft pulse a turn.

Equations: three_phase.py. The set is invented and meant for 400 V in star, so for 230 V in delta: a star-delta
start is `mains_v` 230, started with `delta` 0; then the line off, `delta` 1, the line on again (from textbook
knowledge). `direct_v` stands on L1 alone, as on all three it would do nothing. Thermal constants are invented.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import cos, inf, pi, sin, sqrt
from typing import Any

import numpy as np

from simulator.motors import three_phase, three_phase_run
from simulator.motors.motor import Model
from simulator.physics.control import Control, ranged
from simulator.physics.index_pulse import FROM_ZERO, shaft_level
from simulator.physics.load import LOAD_CONTROLS, fill_load
from simulator.physics.mains import HARMONICS, MAINS_CONTROLS, PHASE_CONTROLS, fill_mains
from simulator.physics.warmth import WARMTH_CONTROLS, Thermal, cooled, fill_warmth

CONTROLS = (
    Control("supply_on", 0, 0, 1, "line switch; each line opens at the next zero of its current"),
    Control("delta", 0, 0, 1, "windings 0 in star, 1 in delta; takes hold while all lines are open"),
    *MAINS_CONTROLS,
    *PHASE_CONTROLS,
    *LOAD_CONTROLS,
    Control("broken_bar", 0, 0, 1, "asymmetry of the cage: 0 whole, 0.1 about one broken bar of 28"),
    Control("slot_percent", 0, 0, 5, "line of the rotor slots in the currents, of their RMS: 0.1 to 2 is usual"),
    Control(
        "eccentricity_percent", 0, 0, 5, "lines at f +/- n/60 in the currents, of their RMS: eccentricity, bearing"
    ),
    *WARMTH_CONTROLS,
)


_RANGES = {
    "pole_pairs": (1, 100),
    "stator_leakage_h": (1e-9, 1e3),
    "rotor_leakage_h": (1e-9, 1e3),
    "magnetizing_h": (1e-9, 1e4),
    "core_ohm": (1e-3, inf),
    "inertia_kg_m2": (1e-9, 1e12),
}


@dataclass(frozen=True, slots=True)
class Parameters:
    """One motor, each phase winding by itself; cage referred to the stator."""

    pole_pairs: int
    stator_ohm: float
    rotor_ohm: float
    stator_leakage_h: float
    rotor_leakage_h: float
    magnetizing_h: float
    core_ohm: float
    viscous_n_m_s: float
    inertia_kg_m2: float
    pump_n_m_s2: float  # what `load_factor` multiplies
    bars: int
    usual: Mapping[str, float]
    thermal: Thermal

    def __post_init__(self) -> None:
        """ValueError: what the model cannot follow."""
        ranged(self, _RANGES)


SLIPWAY_PUMP = Parameters(
    pole_pairs=2,
    stator_ohm=6.3,
    rotor_ohm=4.25,
    stator_leakage_h=0.0124,
    rotor_leakage_h=0.0124,
    magnetizing_h=0.337,
    core_ohm=2200,
    viscous_n_m_s=0.0013,
    inertia_kg_m2=0.012,
    pump_n_m_s2=10 / (1420 * pi / 30) ** 2,  # 10 N.m at 1420 r/min
    bars=28,
    usual={"mains_v": 400},
    thermal=Thermal(winding_j_k=700, case_j_k=9000, winding_to_case_k_w=0.1, case_to_air_k_w=0.11),
)


def _free_per_h(transient_h: float, lead_rad: float) -> list[list[float]]:
    """G / L_t for each set of closed lines: nothing, one direction, or both are free."""
    result = [[0.0, 0.0, 0.0] for _ in range(8)]
    result[three_phase.ALL_LINES] = [1 / transient_h, 0.0, 1 / transient_h]
    for line in range(3):
        axis = 2 * pi / 3 * line + lead_rad
        a, b = -sin(axis), cos(axis)
        result[three_phase.ALL_LINES & ~(1 << line)] = [a * a / transient_h, a * b / transient_h, b * b / transient_h]
    return result


def constants(motor: Parameters, controls: Mapping[str, float]) -> Any:
    """One case, (1,) records of three_phase.CONSTANTS."""
    case = np.zeros(1, three_phase.CONSTANTS)
    fill_mains(case["mains"][0], controls, controls["mains_v"] / sqrt(3))
    fill_warmth(case["warmth"][0], motor.thermal, controls)
    fill_load(
        case["load"][0],
        controls,
        inertia_kg_m2=motor.inertia_kg_m2,
        viscous_n_m_s=motor.viscous_n_m_s,
        fan_n_m_s2=motor.pump_n_m_s2,
    )
    for name in ("stator_ohm", "rotor_ohm", "pole_pairs", "bars"):
        case[name] = getattr(motor, name)
    case["rotor_per_h"] = 1 / (motor.rotor_leakage_h + motor.magnetizing_h)
    case["coupling"] = motor.magnetizing_h * case["rotor_per_h"]
    case["core_siemens"] = 1 / motor.core_ohm
    case["asymmetry"] = controls["broken_bar"]
    case["slots"], case["eccentricity"] = controls["slot_percent"] / 100, controls["eccentricity_percent"] / 100
    case["delta"] = controls["delta"] > 0
    if controls["supply_on"] > 0:
        case["closed"] = sum((controls[f"l{k + 1}_connected"] > 0) << k for k in range(3))
    _fill_connections(case[0], motor, controls)
    return case


def _fill_connections(case: Any, motor: Parameters, controls: Mapping[str, float]) -> None:
    """What differs in star and in delta: voltages, the supply's impedance, and which currents are free."""
    own_h = motor.stator_leakage_h + motor.magnetizing_h * (1 - case["coupling"])
    order = -1 if controls["phase_order"] < 0 else 1
    axes = np.exp(2j * pi / 3 * np.arange(3)) * 2 / 3
    shares = np.array([controls[f"l{k}_percent"] / 100 for k in (1, 2, 3)])
    peaks = [case["mains"]["peak_v"], *case["mains"]["harmonic_v"]]
    for delta, times in ((0, 1.0 + 0j), (1, sqrt(3) * np.exp(1j * pi / 6))):
        impedances = 3 if delta else 1
        case["source_ohm"][delta] = impedances * controls["source_ohm"]
        case["source_h"][delta] = impedances * controls["source_h"]
        case["transient_h"][delta] = own_h + case["source_h"][delta]
        case["free_per_h"][delta] = _free_per_h(case["transient_h"][delta], pi / 6 if delta else 0.0)
        direct = times * axes[0] * controls["direct_v"]
        case["direct_v"][delta] = direct.real, direct.imag
        for row, (h, peak) in enumerate(zip((1, *HARMONICS), peaks, strict=True)):
            lag = h * order * 2 * pi / 3 * np.arange(3)
            with_sine = times * peak * np.sum(shares * axes * np.cos(lag))
            with_cosine = -times * peak * np.sum(shares * axes * np.sin(lag))
            case["waves_v"][delta, row] = with_sine.real, with_sine.imag, with_cosine.real, with_cosine.imag


def at_rest(motor: Parameters, seed: int = 0) -> Any:
    """A motor that has stood for long, (1,) records of three_phase.STATE; the shaft pulse is high."""
    state = np.zeros(1, three_phase.STATE)
    state["angle_rad"], state["winding_c"], state["case_c"] = pi / 2, 20, 20
    return state


def stored_j(case: Any, state: Any) -> float:
    """Energy in the fields of motor and supply, and in the shaft."""
    a, b, rotor_a, rotor_b = state["y"]
    magnetic = 1.5 * case["transient_h"][state["delta"]] * (a * a + b * b)
    magnetic += 1.5 * (rotor_a**2 + rotor_b**2) * case["rotor_per_h"]
    return float(0.5 * (magnetic + case["load"]["inertia_kg_m2"] * state["speed_rad_s"] ** 2))


def renewed(motor: Parameters, case: Any, state: Any) -> None:
    """Cold."""
    cooled(case["warmth"], state)
    state["arc_s"] = state["flicker_rad"] = state["swing_rad"] = 0.0


MODEL = Model(
    signals=three_phase.SIGNALS,
    inputs=("shaft_pulse",),
    truths=three_phase.TRUTHS,
    controls=CONTROLS,
    parameter_sets={"slipway_pump": SLIPWAY_PUMP},
    longest_step_s=100e-6,
    run=three_phase_run.run,
    constants=constants,
    at_rest=at_rest,
    stored_j=stored_j,
    level=shaft_level(FROM_ZERO),
    renewed=renewed,
    usual=lambda motor: motor.usual,
)
