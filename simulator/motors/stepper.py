"""The hatch actuator: a two-phase hybrid stepping motor of 1.8 degrees on a voltage driver.

The equations stand in stepper_run.py. The set is invented, its thermal constants too.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import floor, pi
from typing import Any

import numpy as np

from simulator.motors.motor import Model
from simulator.motors.stepper_run import CONSTANTS, SIGNALS, STATE, TRUTHS, run
from simulator.physics.control import Control, ranged
from simulator.physics.index_pulse import AROUND_ZERO, shaft_level
from simulator.physics.load import LOAD_CONTROLS, fill_load
from simulator.physics.warmth import WARMTH_CONTROLS, Thermal, cooled, fill_warmth

CREEP_RAD_S = 0.3
FIRST_RAD = pi / 4  # N a at which the first step holds it
CONTROLS = (
    Control("supply_on", 0, 0, 1, "supply of the driver"),
    Control("driver_v", 12, 0, 100, "its voltage"),
    Control("enable", 1, 0, 1, "driver on; off: both coils let go"),
    Control("holding", 1, 0, 1, "coils stay on at rest; off: only while steps are commanded"),
    Control("step_rate_hz", 0, 0, 10_000, "steps a second"),
    Control("ramp_hz_s", 0, 0, 1e6, "how fast the rate follows, steps/s2; 0: at once"),
    Control("direction", 1, -1, 1, "forward above 0, else backward"),
    Control("coil_1_reversed", 0, 0, 1, "ends of coil 1 exchanged: it turns the other way"),
    *LOAD_CONTROLS,
    *WARMTH_CONTROLS,
)


_RANGES = {"teeth": (1, 1000), "ohm": (0, 1e12), "henry": (1e-7, 1e3), "inertia_kg_m2": (1e-9, 1e12)}


@dataclass(frozen=True, slots=True)
class Parameters:
    """An invented motor: it proves nothing about real ones. Values are per coil."""

    teeth: int
    ohm: float
    henry: float
    torque_n_m_a: float  # and V s/rad
    detent_n_m: float
    inertia_kg_m2: float
    friction_n_m_s: float
    dry_friction_n_m: float
    driver_v: float
    thermal: Thermal

    def __post_init__(self) -> None:
        """ValueError: what the model cannot follow."""
        ranged(self, _RANGES)


HATCH_ACTUATOR = Parameters(
    teeth=50,
    ohm=30,
    henry=0.037,
    torque_n_m_a=0.55,
    detent_n_m=0.01,
    inertia_kg_m2=6.8e-6,
    friction_n_m_s=0.0003,
    dry_friction_n_m=0.008,
    driver_v=12,
    thermal=Thermal(winding_j_k=40, case_j_k=130, winding_to_case_k_w=2.0, case_to_air_k_w=5.0),
)


def constants(motor: Parameters, controls: Mapping[str, float]) -> Any:
    """One case, (1,) of CONSTANTS: the motor with its controls as they stand."""
    case = np.zeros(1, CONSTANTS)
    for name in ("teeth", "ohm", "henry", "torque_n_m_a", "detent_n_m"):
        case[name] = getattr(motor, name)
    case["driver_v"], case["ramp_hz_s"] = controls["driver_v"], controls["ramp_hz_s"]
    case["powered"] = controls["supply_on"] > 0 and controls["enable"] > 0
    case["holding"] = controls["holding"] > 0
    moving = case["powered"][0] and controls["direction"] != 0
    case["rate_hz"] = np.sign(controls["direction"]) * controls["step_rate_hz"] if moving else 0.0
    case["coil_1_way"] = -1.0 if controls["coil_1_reversed"] > 0 else 1.0
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
    """The state of one case, (1,) of STATE: no current, where its first step holds it. Nothing is random."""
    state = np.zeros(1, STATE)
    state["angle_rad"] = FIRST_RAD / motor.teeth
    state["winding_c"] = state["case_c"] = 20.0
    return state


def stored_j(case: Any, state: Any) -> float:
    """In the coils, the detent and the turning parts."""
    magnetic = 0.5 * case["henry"] * float(np.sum(state["i"] ** 2))
    detent = -case["detent_n_m"] / (4 * case["teeth"]) * (np.cos(4 * case["teeth"] * state["angle_rad"]) + 1)
    return float(magnetic + detent + 0.5 * case["load"]["inertia_kg_m2"] * state["speed_rad_s"] ** 2)


def renewed(motor: Parameters, case: Any, state: Any) -> None:
    """Cold, its command at its first step, its shaft put by hand where that step holds it: no tooth is passed by."""
    cooled(case["warmth"], state)
    apart, angle_rad = 2 * pi / motor.teeth, float(state["angle_rad"])
    before_j, begin_rad = stored_j(case, state), (floor(angle_rad / pi + 0.5) - 0.5) * pi
    angle_rad -= (angle_rad - FIRST_RAD / motor.teeth + 0.5 * apart) % apart - 0.5 * apart
    if angle_rad < begin_rad:  # the index pulse is to read the same
        angle_rad += apart
    elif angle_rad >= begin_rad + pi:
        angle_rad -= apart
    state["angle_rad"] = angle_rad
    state["energy_j"][2] += before_j - stored_j(case, state)
    for name in ("index", "part", "rate_hz", "powered", "coil_1_way", "swing_rad"):
        state[name] = 0


MODEL = Model(
    signals=SIGNALS,
    inputs=("index pulse",),
    truths=TRUTHS,
    controls=CONTROLS,
    parameter_sets={"hatch_actuator": HATCH_ACTUATOR},
    longest_step_s=10e-6,
    run=run,
    constants=constants,
    at_rest=at_rest,
    stored_j=stored_j,
    level=shaft_level(AROUND_ZERO),
    renewed=renewed,
    asked=lambda controls: controls["step_rate_hz"] > 0 and controls["direction"] != 0,
    usual=lambda motor: {"driver_v": motor.driver_v},
)
