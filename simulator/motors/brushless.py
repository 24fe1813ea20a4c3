"""Brushless motors with three Hall sensors and a six-step drive on a DC link: the tender thruster, and two at 12 V.

The equations stand in six_step.py, the sensors and their lines in hall_lines.py. The board's phase channels sit at the
bridge's outputs U, V, W and its inputs where the controller reads, so both see a wrong wiring as it is; its voltage
leads may be exchanged for themselves (lead_order). Phase voltages are to DC minus. PWM appears as its average.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import inf
from typing import Any

import numpy as np

from simulator.capture import CAPTURE_CONTROLS
from simulator.motors.bridge import magnetic_j
from simulator.motors.hall_faults import begin_anew
from simulator.motors.hall_lines import (
    HALL_CONTROLS,
    ORDERS,
    RISE_DEG,
    draw_lines,
    fill_hall,
    lines_read,
    see_rotor,
)  # fmt: skip
from simulator.motors.motor import Model
from simulator.motors.six_step import CONSTANTS, SIGNALS, STATE, TRUTHS, run
from simulator.physics.control import Control, initial, ranged
from simulator.physics.load import LOAD_CONTROLS, fill_load
from simulator.physics.warmth import WARMTH_CONTROLS, Thermal, cooled, fill_warmth

REST_ANGLE_RAD = 0.15
EXCHANGED_A = 0.15  # sensors on the wrong polarity: 50 to 200 mA (from memory)
NO_DIODE_V = 1e9  # what a motor without a bridge never makes
PHASE_ORDERS = ("UVW", "UWV", "VUW", "VWU", "WUV", "WVU")
OUTPUT_MASKS = ("none", "U", "V", "U+V", "W", "U+W", "V+W", "U+V+W")
CONTROLS = (
    Control("supply_on", 0, 0, 1, "source of the DC link; off: the bridge is off too, and the shaft coasts"),
    Control("source_v", 36, 0, 1000, "source of the DC link"),
    Control("source_ohm", 0, 0, 1000, "its resistance; 0 without a limit: it holds the link and takes back what comes"),
    Control("source_limit_a", inf, 0, inf, "current that the source gives at most; inf: no limit"),
    Control("duty", 0, 0, 1, "share of the link voltage on the driven pair; 0 brakes"),
    Control("direction", 1, -1, 1, "1 forward, -1 reverse", only=(1, -1)),
    Control("bridge_off", 0, 0, 1, "the motor is off the bridge; the board's leads stay on its three wires"),
    Control("current_limit_a", 40, 0, inf, "the drive's limit for the driven pair; inf: none"),
    Control("controller_spacing_deg", 120, 60, 120, "spacing of the Hall sensors that the drive's table is made for"),
    Control("phase_order", 0, 0, 5, "motor phases on the outputs U V W", PHASE_ORDERS),
    Control("lead_order", 0, 0, 5, "outputs that the board's voltage leads U V W are on", PHASE_ORDERS),
    *(Control(f"phase_{x}_open", 0, 0, 1, f"lead of the motor's phase {x.upper()} is off") for x in "uvw"),
    *(Control(f"phase_{x}_ohm_factor", 1, 1, 20, f"resistance of phase {x.upper()}, as a multiple") for x in "uvw"),
    Control("upper_switch_dead", 0, 0, 7, "outputs whose switch to DC plus does not close", OUTPUT_MASKS),
    Control("lower_switch_dead", 0, 0, 7, "outputs whose switch to DC minus does not close", OUTPUT_MASKS),
    *HALL_CONTROLS,
    *CAPTURE_CONTROLS,
    *LOAD_CONTROLS,
    *WARMTH_CONTROLS,
)


_RANGES = {
    "pole_pairs": (1, 32),
    "phase_ohm": (0, 1e12),
    "phase_h": (1e-6, 1),
    "inertia_kg_m2": (1e-7, 1e3),
    "link_f": (1e-6, 1),
    "diode_v": (1e-6, 10),
    "bleed_ohm": (1, inf),
    "emf_sine": (0, 1),
    "hall_hysteresis_deg": (0, 30),
    "hall_place_deg": (0, 10),
    "hall_width_deg": (0, 10),
    "magnets_deg": (0, 10),
}


@dataclass(frozen=True, slots=True)
class Parameters:
    """An invented motor and its drive: it proves nothing about real ones. Electrical values are per phase."""

    pole_pairs: int
    phase_ohm: float
    phase_h: float
    back_emf_v_s: float  # flat top, V s/rad
    inertia_kg_m2: float
    dry_friction_n_m: float
    friction_n_m_s: float
    source_v: float
    diode_v: float  # above 0
    link_f: float
    thermal: Thermal
    bleed_ohm: float = 1000.0  # what empties the link capacitor when the source is off
    source_ohm: float = 0.0
    source_limit_a: float = inf
    current_limit_a: float = inf
    source_takes_back: bool = True  # a battery does, a bench supply does not
    emf_sine: float = 0.0  # 0 trapezoid, 1 sine, or a mix
    fan_n_m_s2: float = 0.0
    hall_hysteresis_deg: float = 0.5  # electrical, to either side
    hall_place_deg: float = 0.0  # scatter of a healthy motor, drawn from the seed: RMS, electrical
    hall_width_deg: float = 0.0
    magnets_deg: float = 0.0
    magnets: tuple[float, ...] = ()  # their pattern, two a pole pair, of which magnets_deg is the unit; else drawn
    sensors_a: float = 0.012  # the three Hall sensors

    def __post_init__(self) -> None:
        """ValueError: what the model cannot follow."""
        ranged(self, _RANGES)


TENDER_THRUSTER = Parameters(
    pole_pairs=7,
    phase_ohm=0.06,
    phase_h=0.00012,
    back_emf_v_s=0.0573,
    inertia_kg_m2=0.0004,
    dry_friction_n_m=0.03,
    friction_n_m_s=0.0001,
    source_v=36,
    diode_v=0.7,
    link_f=0.00047,
    current_limit_a=40,
    thermal=Thermal(winding_j_k=90, case_j_k=400, winding_to_case_k_w=0.6, case_to_air_k_w=1.2),
    hall_place_deg=0.8,
    hall_width_deg=1.0,
    magnets_deg=0.6,
)
BENCH_MOTOR_12_V = Parameters(
    pole_pairs=7,
    phase_ohm=0.12,
    phase_h=0.0002,
    back_emf_v_s=0.0475,
    inertia_kg_m2=0.0002,
    dry_friction_n_m=0.03,
    friction_n_m_s=4e-5,
    source_v=12,
    source_ohm=0.05,
    source_limit_a=60,
    diode_v=1e-3,  # ideal
    link_f=0.001,
    bleed_ohm=10_000,
    thermal=Thermal(winding_j_k=40, case_j_k=150, winding_to_case_k_w=1.0, case_to_air_k_w=2.5),
    hall_hysteresis_deg=1.0,
)
NET_WINDER = Parameters(
    pole_pairs=4,
    phase_ohm=0.18,
    phase_h=0.00028,
    back_emf_v_s=0.031,
    inertia_kg_m2=0.00012,
    dry_friction_n_m=0.012,
    friction_n_m_s=2e-5,
    source_v=12,
    source_ohm=0.05,
    source_limit_a=3,
    source_takes_back=False,
    diode_v=0.7,
    link_f=0.00047,
    emf_sine=0.4,
    thermal=Thermal(winding_j_k=45, case_j_k=180, winding_to_case_k_w=0.9, case_to_air_k_w=2.2),
    hall_hysteresis_deg=0.8,
    hall_place_deg=0.8,
    hall_width_deg=1.0,
    magnets_deg=0.6,
)


def constants(motor: Parameters, controls: Mapping[str, float]) -> Any:
    """One case, (1,) of CONSTANTS: the motor with its controls as they stand."""
    case = np.zeros(1, CONSTANTS)
    for name in ("pole_pairs", "phase_ohm", "phase_h", "back_emf_v_s", "emf_sine", "diode_v", "link_f", "bleed_ohm"):
        case[name] = getattr(motor, name)
    for name in ("source_limit_a", "duty", "current_limit_a"):
        case[name] = controls[name]
    limited = controls["source_limit_a"] < inf
    case["source_v"], case["source_ohm"] = controls["source_v"], max(controls["source_ohm"], 1e-3 * limited)
    case["takes_back"] = motor.source_takes_back
    case["forward"], case["supplied"] = controls["direction"] > 0, controls["supply_on"] > 0
    case["table_60"] = controls["controller_spacing_deg"] <= 90
    case["order"] = order = ORDERS[round(controls["phase_order"])]
    case["seen"] = [order[output] for output in ORDERS[round(controls["lead_order"])]]
    case["ohm_factor"] = [controls[f"phase_{x}_ohm_factor"] for x in "uvw"]
    case["upper_dead"], case["lower_dead"] = (round(controls[f"{x}_switch_dead"]) for x in ("upper", "lower"))
    case["bridge_off"] = controls["bridge_off"] > 0
    if case["bridge_off"]:
        case["diode_v"] = NO_DIODE_V
    case["open"] = [controls[f"phase_{x}_open"] > 0 for x in "uvw"]
    case["sensors_a"] = (motor.sensors_a, 0.0, 0.0, EXCHANGED_A)[round(controls["hall_supply_fault"])]
    fill_load(
        case["load"][0],
        controls,
        inertia_kg_m2=motor.inertia_kg_m2,
        dry_n_m=motor.dry_friction_n_m,
        viscous_n_m_s=motor.friction_n_m_s,
        fan_n_m_s2=motor.fan_n_m_s2,
    )
    fill_hall(
        case["hall"][0],
        controls,
        motor.pole_pairs,
        motor.hall_place_deg,
        motor.hall_width_deg,
    )
    fill_warmth(case["warmth"][0], motor.thermal, controls)
    return case


def at_rest(motor: Parameters, seed: int) -> Any:
    """The state of one case, (1,) of STATE: no current, no speed, an empty link, a healthy wiring."""
    state = np.zeros(1, STATE)
    state["electrical_deg"] = motor.pole_pairs * np.degrees(REST_ANGLE_RAD)
    state["winding_c"] = state["case_c"] = 20.0
    lines, hall = state["lines"][0], constants(motor, {**initial(CONTROLS), **usual(motor)})["hall"][0]
    draw_lines(lines, seed, motor.pole_pairs, motor.magnets)
    lines["passed"] = np.floor((state["electrical_deg"][0] - np.array(RISE_DEG[120])) / 180)
    see_rotor(hall, lines, float(state["electrical_deg"][0]))
    lines["read"] = lines_read(hall, lines)
    return state


def usual(motor: Parameters) -> Mapping[str, float]:
    """Controls that follow from the motor."""
    return {
        "source_v": motor.source_v,
        "source_ohm": motor.source_ohm,
        "source_limit_a": motor.source_limit_a,
        "current_limit_a": motor.current_limit_a,
        "hall_magnets_deg": motor.magnets_deg,
        "hall_hysteresis_deg": motor.hall_hysteresis_deg,
    }


def stored_j(case: Any, state: Any) -> float:
    """In the windings, the link's capacitor and the turning parts."""
    kinetic = 0.5 * case["load"]["inertia_kg_m2"] * state["speed_rad_s"] ** 2
    return float(magnetic_j(case, state["i"]) + 0.5 * case["link_f"] * state["link_v"] ** 2 + kinetic)


def renewed(motor: Parameters, case: Any, state: Any) -> None:
    """Cold, its link empty; what is random on its lines begins anew."""
    cooled(case["warmth"], state)
    state["energy_j"][1] += 0.5 * case["link_f"] * state["link_v"] ** 2
    state["link_v"] = state["swing_rad"] = 0.0
    begin_anew(state["lines"])


def level(case: Any, state: Any) -> int:
    """What the three inputs read, 4 C + 2 B + A."""
    return int(state["lines"]["read"])


MODEL = Model(
    signals=SIGNALS,
    inputs=("Hall A", "Hall B", "Hall C"),
    truths=TRUTHS,
    controls=CONTROLS,
    parameter_sets={"tender_thruster": TENDER_THRUSTER, "bench_motor_12_v": BENCH_MOTOR_12_V, "net_winder": NET_WINDER},
    longest_step_s=17e-6,
    run=run,
    constants=constants,
    at_rest=at_rest,
    stored_j=stored_j,
    level=level,
    renewed=renewed,
    usual=usual,
    asked=lambda controls: controls["duty"] > 0,
)
