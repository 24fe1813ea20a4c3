"""The cabin ventilator: a single-phase induction motor with a run capacitor, a fan on its shaft.

The equations stand in single_phase.py. The shaft pulse is high for the first half of each turn. The line
switch opens at the zero of the windings' current; the core's small current and the arc are left out.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import cos, pi, radians, sin, sqrt
from typing import Any

import numpy as np

from simulator.motors.motor import Control, Trace, changed, initial, trace_of
from simulator.motors.single_phase import AUXILIARY, CONSTANTS, LINE, SIGNALS, STATE, advance, inverses
from simulator.stepping import steps_per_sample

LONGEST_STEP_S = 50e-6  # half of it changes nothing in five digits
REST_ANGLE_RAD = pi / 2  # the middle of the pulse, so that a shaft at rest stands on no edge

CONTROLS = (
    Control("supply_on", 0, 0, 1, "line switch; opens at the next zero of the current"),
    Control("switching_angle_deg", 0, 0, 360, "angle of the voltage when the switch closes, 0 = zero rising"),
    Control("mains_v", 230, 0, 500, "RMS"),
    Control("mains_hz", 50, 1, 400, "supply frequency"),
    Control("load_factor", 1, 0, 10, "fan load as a multiple of the parameters' fan"),
    Control("load_torque_n_m", 0, 0, 100, "dry friction beside the fan: a brake on the hub"),
    Control("jammed", 0, 0, 1, "shaft held still"),
    Control("capacitor_connected", 1, 0, 1, "opens at the next zero of the auxiliary current, keeps its charge"),
)


@dataclass(frozen=True, slots=True)
class Parameters:
    """An invented motor: it proves nothing about real ones. Cage referred to the main winding."""

    pole_pairs: int
    turns_ratio: float  # auxiliary to main
    auxiliary_angle_rad: float
    main_ohm: float
    auxiliary_ohm: float
    rotor_ohm: float
    main_leakage_h: float
    auxiliary_leakage_h: float
    rotor_leakage_h: float
    magnetizing_h: float
    core_ohm: float
    capacitor_f: float | None  # None: short-circuited
    capacitor_ohm: float
    inertia_kg_m2: float
    friction_n_m_s: float
    fan_n_m_s2: float
    mains_v: float
    mains_hz: float


VENTILATOR = Parameters(
    pole_pairs=2,
    turns_ratio=0.76,
    auxiliary_angle_rad=-1.5708,
    main_ohm=102,
    auxiliary_ohm=90,
    rotor_ohm=72,
    main_leakage_h=0.1,
    auxiliary_leakage_h=0.058,
    rotor_leakage_h=0.1,
    magnetizing_h=1.74,
    core_ohm=9000,
    capacitor_f=4e-6,
    capacitor_ohm=5,
    inertia_kg_m2=0.0012,
    friction_n_m_s=0.0001,
    fan_n_m_s2=2.179e-5,
    mains_v=230,
    mains_hz=50,
)


def for_120_v_60_hz(motor: Parameters) -> Parameters:
    """A 230 V 50 Hz motor wound for 120 V 60 Hz: the same power and per-unit values, speed x 1.2, torque / 1.2."""
    r2 = (120 / 230) ** 2
    capacitor_f = None if motor.capacitor_f is None else motor.capacitor_f * (50 / 60) / r2
    return replace(
        motor,
        **{name: getattr(motor, name) * r2 for name in ("main_ohm", "auxiliary_ohm", "rotor_ohm", "capacitor_ohm")},
        **{name: getattr(motor, name) * r2 * 50 / 60 for name in motor.__slots__ if name.endswith("_h")},
        core_ohm=motor.core_ohm * r2,
        capacitor_f=capacitor_f,
        friction_n_m_s=motor.friction_n_m_s / 1.2**2,
        fan_n_m_s2=motor.fan_n_m_s2 / 1.2**3,
        mains_v=120,
        mains_hz=60,
    )


VENTILATOR_60_HZ = for_120_v_60_hz(VENTILATOR)


def constants(motor: Parameters, controls: Mapping[str, float]) -> Any:
    """One case, (1,) of CONSTANTS: the motor with its controls as they stand."""
    a, g, LM = motor.turns_ratio, motor.auxiliary_angle_rad, motor.magnetizing_h
    rotor_h, c, s = motor.rotor_leakage_h + LM, a * cos(g), a * sin(g)
    inductance_h = np.array(
        [
            [motor.main_leakage_h + LM, c * LM, LM, 0],
            [c * LM, motor.auxiliary_leakage_h + a * a * LM, c * LM, s * LM],
            [LM, c * LM, rotor_h, 0],
            [0, s * LM, 0, rotor_h],
        ]
    )
    case = np.zeros(1, CONSTANTS)
    for name in CONSTANTS.names or ():
        if name in motor.__slots__:
            case[name] = getattr(motor, name)
    case["inductance_h"], case["inverse_per_h"] = inductance_h, inverses(inductance_h)
    case["kept"] = case["inverse_per_h"] @ inductance_h
    case["turns_cos"], case["turns_sin"] = c, s
    case["elastance_per_f"] = 0 if motor.capacitor_f is None else 1 / motor.capacitor_f
    case["fan_n_m_s2"] = motor.fan_n_m_s2 * controls["load_factor"]
    case["load_torque_n_m"] = controls["load_torque_n_m"]
    case["peak_v"] = sqrt(2) * controls["mains_v"]
    case["mains_rad_s"] = 2 * pi * controls["mains_hz"]
    case["closed"] = LINE * (controls["supply_on"] > 0) + AUXILIARY * (controls["capacitor_connected"] > 0)
    case["held"] = controls["jammed"] > 0
    return case


def at_rest() -> Any:
    """The state of one case, (1,) of STATE: no current, no charge, no speed."""
    state = np.zeros(1, STATE)
    state["y"][0, 6] = REST_ANGLE_RAD
    return state


class PermanentSplitCapacitor:
    """One motor at one sample rate."""

    signals: tuple[str, ...] = SIGNALS
    inputs: tuple[str, ...] = ("shaft pulse",)
    controls: tuple[Control, ...] = CONTROLS

    def __init__(self, parameters: Parameters = VENTILATOR, rate_hz: float = 20_000.0) -> None:
        self._parameters, self._rate_hz = parameters, rate_hz
        self._steps = steps_per_sample(rate_hz, LONGEST_STEP_S)
        self._now = {**initial(CONTROLS), "mains_v": parameters.mains_v, "mains_hz": parameters.mains_hz}
        self._case, self._state, self._sample = constants(parameters, self._now), at_rest(), 0

    @property
    def state(self) -> int:
        return 1 - int(self._state["y"][0, 6] // pi) % 2

    def set(self, **controls: float) -> None:
        self._now = changed(self._now, controls, CONTROLS)
        self._case = constants(self._parameters, self._now)
        if self._now["supply_on"] and not self._state["closed"][0] & LINE:
            self._state["phase_rad"] = radians(self._now["switching_angle_deg"])

    def advance(self, samples: int) -> Trace:
        block = advance(self._case, self._state, self._sample, samples, self._rate_hz, self._steps)
        self._sample += samples
        return trace_of(block)
