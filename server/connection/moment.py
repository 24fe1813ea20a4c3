"""How the motor was driven in a window, as far as the check of the connections asks. Pure."""

from dataclasses import dataclass

from server.motors import MotorType
from server.readings import Confidence, Reading

RUN_IT = "run the motor, unloaded or loaded, not braking"
_STANDS_RPM = 1.0  # a shaft that turns slower in a whole window gives nothing back
_OFF = {"resting", "coasting"}
_OF_A_START = {"unknown", "resting", "starting", "running"}
_SETTLING = 3  # windows behind a start from rest: a load drives no motor yet (ours)
_SLIP_LEAST = 0.002  # a slip below may be the uncertainty of frequency and speed (ours)


@dataclass(frozen=True, slots=True)
class Moment:
    """`driven`: the motor is on, or may be. `takes`: it takes power for certain, none can come from its shaft."""

    driven: bool
    takes: bool


class Story:
    """Follows the run state: a start from rest takes power, another may begin on a shaft that turns faster."""

    def __init__(self, motor: MotorType) -> None:
        self._motor = motor
        self._before = ""  # the last state that was neither a start nor unknown
        self._after = _SETTLING + 1  # windows since the last start from rest

    def take(self, states: tuple[str, ...], readings: dict[str, Reading]) -> Moment:
        """The moment of a window with these run states, row by row, and readings by id."""
        slips = self._motor.has_slip and _slips(readings)
        if not states:  # without a plate no run state is known: figures alone tell whether it is on
            return Moment(True, slips)
        words = set(states)
        started = "starting" in words and words <= _OF_A_START and self._before in ("", "resting")
        self._after = 0 if started else self._after + 1
        self._before = next((word for word in reversed(states) if word not in ("starting", "unknown")), self._before)
        if not started and (len(words) != 1 or words <= _OFF):
            return Moment(False, False)
        if self._motor.holds:  # it may lower a load from the first moment on
            return Moment(True, _stands(readings))
        if words == {"unknown"}:
            return Moment(False, False)
        takes = started or "stalled" in words or (self._after <= _SETTLING and "running" in words)
        return Moment(True, takes or slips)


def _number(readings: dict[str, Reading], key: str) -> float | None:
    reading = readings.get(key)
    if reading is None or reading.confidence is not Confidence.GOOD or not isinstance(reading.value, float | int):
        return None
    return float(reading.value)


def _stands(readings: dict[str, Reading]) -> bool:
    rpm = _number(readings, "speed_rpm")
    return rpm is not None and abs(rpm) < _STANDS_RPM


def _slips(readings: dict[str, Reading]) -> bool:
    """The rotor is slower than the field, which an induction machine that gives power back never is."""
    slip = _number(readings, "slip")
    return slip is not None and slip > _SLIP_LEAST
