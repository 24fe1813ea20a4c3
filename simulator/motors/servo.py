"""The gimbal servo: a permanent-magnet DC motor, an encoder on its shaft, and three loops one inside the other.

The equations stand in servo_run.py. The set is invented, its thermal constants too.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import inf, pi
from typing import Any

import numpy as np

from simulator.motors.motor import Model
from simulator.motors.servo_run import CONSTANTS, SIGNALS, STATE, TRUTHS, encoder_rad, run
from simulator.physics.control import Control, ranged
from simulator.physics.index_pulse import AROUND_ZERO, shaft_level
from simulator.physics.load import LOAD_CONTROLS, fill_load
from simulator.physics.warmth import WARMTH_CONTROLS, Thermal, cooled, fill_warmth

CREEP_RAD_S = 0.05
CONTROLS = (
    Control("supply_on", 0, 0, 1, "supply of the bridge; loops begin anew when it comes"),
    Control("source_v", 24, 0, 100, "its voltage"),
    Control("reference_rad_s", 0, -500, 500, "speed at which the wanted position moves"),
    Control("reference_step_rad", 0, -1000, 1000, "step of the wanted position, on top"),
    Control("encoder_sign", 1, -1, 1, "below 0: the encoder counts the wrong way"),
    Control("current_limit_a", 8, 0.1, 100, "limit of the current that the speed loop may ask for"),
    *LOAD_CONTROLS,
    *WARMTH_CONTROLS,
)
_RANGES = {
    "ohm": (0, 1e12),
    "henry": (1e-7, 1e3),
    "inertia_kg_m2": (1e-9, 1e12),
    "counts": (1, 1e9),
    "speed_s": (1e-6, inf),
}


@dataclass(frozen=True, slots=True)
class Parameters:
    """An invented motor and its loops: it proves nothing about real ones."""

    ohm: float
    henry: float
    emf_v_s: float
    brush_v: float
    inertia_kg_m2: float  # motor and gimbal
    dry_friction_n_m: float
    friction_n_m_s: float
    counts: int  # of the encoder, a turn
    source_v: float
    position_gain: float  # 1/s
    highest_rad_s: float
    speed_gain: float  # A s/rad
    speed_s: float
    current_gain: float  # V/A
    current_integral: float  # V/(A s)
    limit_a: float
    thermal: Thermal

    def __post_init__(self) -> None:
        """ValueError: what the model cannot follow."""
        ranged(self, _RANGES)


GIMBAL = Parameters(
    ohm=1.1,
    henry=0.0007,
    emf_v_s=0.045,
    brush_v=0.4,
    inertia_kg_m2=5e-5,
    dry_friction_n_m=0.006,
    friction_n_m_s=1e-5,
    counts=2000,
    source_v=24,
    position_gain=40,
    highest_rad_s=500,
    speed_gain=0.06,
    speed_s=0.05,
    current_gain=1.5,
    current_integral=2000,
    limit_a=8,
    thermal=Thermal(winding_j_k=45, case_j_k=160, winding_to_case_k_w=1.5, case_to_air_k_w=4.0),
)


def constants(motor: Parameters, controls: Mapping[str, float]) -> Any:
    """One case, (1,) of CONSTANTS: the motor with its controls as they stand."""
    case = np.zeros(1, CONSTANTS)
    for name in ("ohm", "henry", "emf_v_s", "brush_v", "position_gain", "highest_rad_s", "speed_gain", "speed_s"):
        case[name] = getattr(motor, name)
    case["current_gain"], case["current_integral"] = motor.current_gain, motor.current_integral
    case["counts_rad"] = motor.counts / (2 * pi)
    case["source_v"], case["limit_a"] = controls["source_v"], controls["current_limit_a"]
    case["ramp_rad_s"], case["step_rad"] = controls["reference_rad_s"], controls["reference_step_rad"]
    case["encoder_way"] = -1.0 if controls["encoder_sign"] < 0 else 1.0
    case["powered"] = controls["supply_on"] > 0
    fill_load(
        case["load"][0],
        controls,
        inertia_kg_m2=motor.inertia_kg_m2,
        dry_n_m=motor.dry_friction_n_m,
        viscous_n_m_s=motor.friction_n_m_s,
        creep_rad_s=CREEP_RAD_S,
    )
    fill_warmth(case["warmth"][0], motor.thermal, controls)
    return case


def at_rest(motor: Parameters, seed: int) -> Any:
    """The state of one case, (1,) of STATE. Nothing is random."""
    state = np.zeros(1, STATE)
    state["winding_c"] = state["case_c"] = 20.0
    return state


def stored_j(case: Any, state: Any) -> float:
    """In the winding and the turning parts."""
    kinetic = 0.5 * case["load"]["inertia_kg_m2"] * state["speed_rad_s"] ** 2
    return float(0.5 * case["henry"] * state["i"] ** 2 + kinetic)


def renewed(motor: Parameters, case: Any, state: Any) -> None:
    """Cold; its loops begin anew."""
    cooled(case["warmth"], state)
    state["powered"], state["swing_rad"] = 0, 0.0
    state["ramp_rad"] = encoder_rad(case, float(state["angle_rad"]))


MODEL = Model(
    signals=SIGNALS,
    inputs=("index pulse",),
    truths=TRUTHS,
    controls=CONTROLS,
    parameter_sets={"gimbal": GIMBAL},
    longest_step_s=10e-6,
    run=run,
    constants=constants,
    at_rest=at_rest,
    stored_j=stored_j,
    level=shaft_level(AROUND_ZERO),
    renewed=renewed,
    asked=lambda controls: controls["reference_rad_s"] != 0,
    usual=lambda motor: {"source_v": motor.source_v, "current_limit_a": motor.limit_a},
)
