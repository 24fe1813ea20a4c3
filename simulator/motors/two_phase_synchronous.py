"""What both kinds of small synchronous motor have in common beside their equations: parameters, controls, constants.

It makes one record of constants out of a motor's parameters and its controls; it never steps anything.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import inf, radians
from typing import Any

import numpy as np

from simulator.motors import synchronous_field, synchronous_run
from simulator.motors.motor import Model
from simulator.motors.synchronous_field import AUXILIARY, LINE
from simulator.physics.control import Control, ranged
from simulator.physics.index_pulse import AROUND_ZERO, shaft_level
from simulator.physics.load import LOAD_CONTROLS, fill_load
from simulator.physics.mains import MAINS_CONTROLS, fill_mains
from simulator.physics.warmth import WARMTH_CONTROLS, Thermal, cooled, fill_warmth

CONTROLS = (
    Control("supply_on", 0, 0, 1, "line switch; opens at the next zero of the line's current"),
    *MAINS_CONTROLS,
    Control("auxiliary_swapped", 0, 0, 1, "ends of the auxiliary winding exchanged; takes hold at rest, line open"),
    Control("capacitor_connected", 1, 0, 1, "opens at the next zero of its current, keeps its charge"),
    Control("capacitor_uf", 0.1, 0.001, 100, "run capacitor; an aged one has less"),
    Control("pawl", 0, -1, 1, "one-way stop: 0 none, above 0 turns forwards only, below 0 backwards only"),
    Control("rest_angle_deg", 0, -180, 180, "electrical angle of the resting rotor; takes hold at rest, line open"),
    *LOAD_CONTROLS,
    *WARMTH_CONTROLS,
)


_RANGES = {
    "pole_pairs": (1, 100),
    "axes_h": (1e-9, 1e4),
    "leakage_h": (1e-9, 1e4),
    "cage_ohm": (0, 1e12),
    "cage_leakage_h": (0, 1e4),
    "capacitor_f": (1e-9, 1e-4),
    "inertia_kg_m2": (1e-9, 1e12),
}


@dataclass(frozen=True, slots=True)
class Parameters:
    """One motor; pairs are axes d and q of the rotor. Without a cage `cage_ohm` is (0, 0)."""

    pole_pairs: int
    winding_ohm: float
    axes_h: tuple[float, float]
    magnet_v_s: float
    leakage_h: float
    cage_ohm: tuple[float, float]
    cage_leakage_h: tuple[float, float]
    capacitor_f: float
    inertia_kg_m2: float
    dry_n_m: float
    viscous_n_m_s: float
    thermal: Thermal
    mains_v: float = 230
    mains_hz: float = 50

    def __post_init__(self) -> None:
        """ValueError: what the model cannot follow."""
        ranged(self, _RANGES)
        if max(self.cage_ohm) > 0:  # a cage links what is not leakage
            ranged(self, {"axes_h": (1.001 * self.leakage_h, 1e4)})


def for_120_v_60_hz(motor: Parameters) -> Parameters:
    """A 230 V 50 Hz motor wound for 120 V 60 Hz: the same power and per-unit values, speed x 1.2, torque / 1.2.

    The rotor is lighter by 1.728, so that it moves through each cycle alike: with the same one the magnets would not be
    caught at 60 Hz, and the reluctance motor would not be pulled in under its load.
    """
    r = 120 / 230
    henry = r * r * 50 / 60
    return replace(
        motor,
        winding_ohm=motor.winding_ohm * r * r,
        axes_h=(motor.axes_h[0] * henry, motor.axes_h[1] * henry),
        magnet_v_s=motor.magnet_v_s * r / 1.2,
        leakage_h=motor.leakage_h * henry,
        cage_ohm=(motor.cage_ohm[0] * r * r, motor.cage_ohm[1] * r * r),
        cage_leakage_h=(motor.cage_leakage_h[0] * henry, motor.cage_leakage_h[1] * henry),
        capacitor_f=motor.capacitor_f * (50 / 60) / (r * r),
        inertia_kg_m2=motor.inertia_kg_m2 / 1.2**3,
        dry_n_m=motor.dry_n_m / 1.2,
        viscous_n_m_s=motor.viscous_n_m_s / 1.44,
        mains_v=120,
        mains_hz=60,
    )


def constants(motor: Parameters, controls: Mapping[str, float]) -> Any:
    """One case, (1,) records of synchronous_field.CONSTANTS."""
    case = np.zeros(1, synchronous_field.CONSTANTS)
    fill_mains(case["mains"][0], controls, controls["mains_v"])
    fill_warmth(case["warmth"][0], motor.thermal, controls)
    fill_load(
        case["load"][0],
        controls,
        inertia_kg_m2=motor.inertia_kg_m2,
        dry_n_m=motor.dry_n_m,
        viscous_n_m_s=motor.viscous_n_m_s,
    )
    axes = np.array(motor.axes_h)
    if max(motor.cage_ohm) > 0:
        mutual = axes - motor.leakage_h
        cage_h = mutual + motor.cage_leakage_h
        case["cage_h"], case["cage_share"] = cage_h, mutual / cage_h
        axes = axes - mutual**2 / cage_h
    case["mean_h"], case["swing_h"] = axes.mean(), (axes[0] - axes[1]) / 2
    case["pole_pairs"], case["winding_ohm"], case["magnet_v_s"] = motor.pole_pairs, motor.winding_ohm, motor.magnet_v_s
    case["cage_ohm"], case["elastance_per_f"] = motor.cage_ohm, 1e6 / controls["capacitor_uf"]
    case["sense"] = 1.0 if controls["auxiliary_swapped"] > 0 else -1.0
    case["pawl"], case["rest_rad"] = np.sign(controls["pawl"]), radians(controls["rest_angle_deg"])
    case["wanted"] = LINE * (controls["supply_on"] > 0) + AUXILIARY * (controls["capacitor_connected"] > 0)
    return case


def at_rest(motor: Parameters, seed: int = 0) -> Any:
    """A motor that has stood for long at angle 0, (1,) records of synchronous_field.STATE; the pulse is high."""
    state = np.zeros(1, synchronous_field.STATE)
    state["winding_c"], state["case_c"], state["sense"], state["closed"] = 20, 20, -1, AUXILIARY
    state["y"][0, 0] = motor.magnet_v_s
    return state


def stored_j(case: Any, state: Any) -> float:
    """Energy in windings, supply, cage, capacitor and shaft."""
    fields_j = synchronous_run.fields_j(case, state)
    capacitor_j = 0.5 * state["y"][4] ** 2 / case["elastance_per_f"]
    return float(fields_j + capacitor_j + 0.5 * case["load"]["inertia_kg_m2"] * state["speed_rad_s"] ** 2)


def renewed(motor: Parameters, case: Any, state: Any) -> None:
    """Cold, its capacitor empty, at its rest angle as soon as it stands with its line open."""
    cooled(case["warmth"], state)
    if state["elastance_per_f"] > 0:
        state["energy_j"][1] += 0.5 * state["y"][4] ** 2 / state["elastance_per_f"]
    state["y"][4], state["rest_rad"] = 0.0, inf
    state["arc_s"] = state["flicker_rad"] = state["swing_rad"] = 0.0


def model(sets: Mapping[str, Parameters]) -> Model:
    """The type that has these motors on the bench."""
    return Model(
        signals=synchronous_run.SIGNALS,
        inputs=("shaft_pulse",),
        truths=synchronous_run.TRUTHS,
        controls=CONTROLS,
        parameter_sets=sets,
        longest_step_s=25e-6,
        run=synchronous_run.run,
        constants=constants,
        at_rest=at_rest,
        stored_j=stored_j,
        level=shaft_level(AROUND_ZERO),
        renewed=renewed,
        usual=lambda motor: {
            "mains_v": motor.mains_v,
            "mains_hz": motor.mains_hz,
            "capacitor_uf": motor.capacitor_f * 1e6,
        },
    )
