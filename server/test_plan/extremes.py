"""What each reading surely was below and above over a run, while the motor ran and over all of it. Pure.

Half the width of its interval is taken off, where that is known: what is passed is passed beyond doubt. A value counts
once it has held for HELD windows in turn: one window alone, as one in which the supply was switched, is no witness.
Only good readings count.
"""

from collections import deque
from collections.abc import Iterable, Mapping
from typing import Any

from server.readings import Confidence, Instant, Reading

HELD = 5  # windows, one second
IDS_MAX = 300  # more than any motor has
_RUNNING, _ANY = "running", "any"
_STATE = "run_state"


class Extremes:
    """Give it instants with the UTC of their end; `before`: a record to go on from.

    `record()` is {while: {reading: [low, when, high, when]}}.
    """

    def __init__(self, before: Mapping[str, Mapping[str, list[float]]] | None = None) -> None:
        self._recent: dict[str, dict[str, deque[tuple[float, float]]]] = {_RUNNING: {}, _ANY: {}}
        self._found: dict[str, dict[str, list[float]]] = {_RUNNING: {}, _ANY: {}}
        for meanwhile, its in (before or {}).items():
            self._found[meanwhile] = {name: list(ends) for name, ends in its.items()}

    def take(self, instant: Instant, utc_s: float) -> None:
        """The readings of one window."""
        state = next((each.value for each in instant.readings if each.key == _STATE), None)
        numbers = [each for each in instant.readings if isinstance(each.value, float | int)]
        self._add(_ANY, numbers, utc_s)
        if state is not None:
            self._add(_RUNNING, numbers if state == _RUNNING else (), utc_s)
        if state not in (None, _RUNNING):
            self._recent[_RUNNING].clear()

    def _add(self, meanwhile: str, readings: Iterable[Reading], utc_s: float) -> None:
        recent, found = self._recent[meanwhile], self._found[meanwhile]
        for reading in readings:
            name = reading.id
            if reading.confidence is not Confidence.GOOD:
                recent.pop(name, None)
                continue
            its = recent.get(name)
            if its is None:
                if name not in found and len(found.keys() | recent.keys()) >= IDS_MAX:
                    continue
                its = recent[name] = deque(maxlen=HELD)
            half = 0.0 if reading.uncertainty is None else reading.uncertainty.half
            value = float(reading.value)  # type: ignore[arg-type]
            its.append((value + half, value - half))
            if len(its) < HELD:
                continue
            held_low, held_high = max(its)[0], min(its, key=_second)[1]
            ends = found.get(name)
            if ends is None:
                found[name] = [held_low, utc_s, held_high, utc_s]
                continue
            if held_low < ends[0]:
                ends[:2] = held_low, utc_s
            if held_high > ends[2]:
                ends[2:] = held_high, utc_s

    def record(self) -> dict[str, Any]:
        """What is kept, ready for JSON."""
        return {
            meanwhile: {
                name: [_short(low), round(at, 1), _short(high), round(when, 1)]
                for name, (low, at, high, when) in its.items()
            }
            for meanwhile, its in self._found.items()
        }


def _second(ends: tuple[float, float]) -> float:
    return ends[1]


def _short(value: float) -> float:
    return float(f"{value:.6g}")
