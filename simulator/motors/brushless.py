"""The tender thruster: brushless, three Hall sensors, a six-step drive on a DC link.

The equations stand in six_step.py. Phase voltages are to DC minus. PWM appears as its average.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import floor, inf
from typing import Any

import numpy as np

from simulator.motors.motor import Control, Trace, changed, initial, trace_of
from simulator.motors.six_step import CONSTANTS, HALL_STATES, SIGNALS, STATE, advance
from simulator.stepping import steps_per_sample

LONGEST_STEP_S = 2e-6  # half of it changes 0.001 %
REST_ANGLE_RAD = 0.15  # the middle of a sector

CONTROLS = (
    Control("supply_on", 0, 0, 1, "source of the DC link; off: the bridge is off too, and the shaft coasts"),
    Control("duty", 0, 0, 1, "share of the link voltage on the driven pair; 0 brakes"),
    Control("direction", 1, -1, 1, "forward above 0, else reverse"),
    Control("load_torque_n_m", 0, 0, 100, "load that opposes the motion"),
    Control("jammed", 0, 0, 1, "shaft held still"),
    Control("current_limit_a", 40, 0, inf, "the drive's limit for the driven pair; inf: none"),
)


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
    bleed_ohm: float  # what empties the link capacitor when the source is off
    hall_late_deg: float = 0.0  # electrical; late when turning forward
    hall_hysteresis_deg: float = 0.5  # electrical, to either side


THRUSTER = Parameters(
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
    bleed_ohm=1000,
)


def constants(motor: Parameters, controls: Mapping[str, float]) -> Any:
    """One case, (1,) of CONSTANTS: the motor with its controls as they stand."""
    case = np.zeros(1, CONSTANTS)
    for name in CONSTANTS.names or ():
        if name in motor.__slots__:
            case[name] = getattr(motor, name)
    case["dry_n_m"] = motor.dry_friction_n_m + controls["load_torque_n_m"]
    case["duty"], case["current_limit_a"] = controls["duty"], controls["current_limit_a"]
    case["forward"], case["supplied"] = controls["direction"] > 0, controls["supply_on"] > 0
    case["held"] = controls["jammed"] > 0
    return case


def at_rest(motor: Parameters) -> Any:
    """The state of one case, (1,) of STATE: no current, no speed, an empty link."""
    state = np.zeros(1, STATE)
    state["angle_rad"] = REST_ANGLE_RAD
    state["sector"] = floor((motor.pole_pairs * np.degrees(REST_ANGLE_RAD) - 30 - motor.hall_late_deg) / 60)
    return state


class Brushless:
    """One motor at one sample rate."""

    signals: tuple[str, ...] = SIGNALS
    inputs: tuple[str, ...] = ("Hall A", "Hall B", "Hall C")
    controls: tuple[Control, ...] = CONTROLS

    def __init__(self, parameters: Parameters = THRUSTER, rate_hz: float = 20_000.0) -> None:
        self._parameters, self._rate_hz = parameters, rate_hz
        self._steps = steps_per_sample(rate_hz, LONGEST_STEP_S)
        self._now = initial(CONTROLS)
        self._case, self._state, self._sample = constants(parameters, self._now), at_rest(parameters), 0

    @property
    def state(self) -> int:
        return HALL_STATES[self._state["sector"][0] % 6]

    def set(self, **controls: float) -> None:
        self._now = changed(self._now, controls, CONTROLS)
        self._case = constants(self._parameters, self._now)

    def advance(self, samples: int) -> Trace:
        block = advance(self._case, self._state, self._sample, samples, self._rate_hz, self._steps)
        self._sample += samples
        return trace_of(block)
