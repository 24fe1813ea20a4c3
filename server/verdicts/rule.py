"""What answers a question window by window, and how long it takes to say so. Records and one small step."""

from collections.abc import Callable
from dataclasses import dataclass
from math import isfinite
from typing import Any, TypeAlias

from server.config import Plate
from server.motors import MotorType
from server.readings import Confidence, Reading
from server.verdict import Verdict

State: TypeAlias = Any  # each rule has its own; it starts as None
AGREE = 3  # looks that must say the same before it is told, and again before it is told no more (ours)


@dataclass(frozen=True, slots=True)
class Look:
    """One window of the main group: `readings` by their id, when it ended in board time."""

    board_s: float
    readings: dict[str, Reading]
    motor: MotorType
    plate: Plate


Step: TypeAlias = Callable[[State, Look], tuple[State, Verdict | None]]


@dataclass(frozen=True, slots=True)
class Rule:
    """`step(state, look)` gives the next state and what is told now; None: nothing to say."""

    name: str
    step: Step


@dataclass(frozen=True, slots=True)
class Held:
    """`told` now; `next` has been seen `times` looks in a row instead of it."""

    told: Verdict | None = None
    next: Verdict | None = None
    times: int = 0


NOTHING_YET = Held()


def held(before: Held | None, seen: Verdict | None, agree: int = AGREE) -> Held:
    """Tell what `agree` looks in a row have said; figures of what is told already are renewed at once."""
    before = before or NOTHING_YET
    if _key(seen) == _key(before.told):
        return Held(seen)
    times = before.times + 1 if _key(seen) == _key(before.next) and before.times else 1
    return Held(seen) if times >= agree else Held(before.told, seen, times)


def _key(verdict: Verdict | None) -> tuple[str, str]:
    return ("", "") if verdict is None else (verdict.key, verdict.about)


def good_list(reading: Reading | None, count: int) -> list[float] | None:
    """The values of a good reading that is a list of so many finite ones; else None."""
    if reading is None or reading.confidence is not Confidence.GOOD or not isinstance(reading.value, tuple):
        return None
    values = list(reading.value)
    return values if len(values) == count and all(map(isfinite, values)) else None
