"""The cycles of one run as they are kept: a table of bounded length, counts of all, extremes of each figure. Pure."""

from collections import deque
from dataclasses import dataclass, field
from math import inf, isfinite
from typing import Any

from server.duty.cycle import KEYS, Begun, Bound, Cycle, Figure

CYCLES_MAX = 1000  # the first half and the newest; all are counted
_DIGITS = 6  # significant ones that are kept


@dataclass(slots=True)
class CycleTable:
    """Give it cycles as they end, each with its start in UTC; `record()` is ready for JSON.

    `starts`, `on_s`: of all cycles; `hidden_s`: without samples, in which more may have happened. `ends`: of each
    figure over all cycles, what it was surely below and above, each with number and start of its cycle;
    `unknown`: how many of the cycles that began with a start have none, or only a bound.
    """

    cycles: int = 0
    starts: int = 0
    on_s: float = 0.0
    hidden_s: float = 0.0
    ends: dict[str, list[float]] = field(default_factory=dict)
    unknown: dict[str, int] = field(default_factory=dict)
    first: list[dict[str, Any]] = field(default_factory=list)
    last: deque[dict[str, Any]] = field(default_factory=lambda: deque(maxlen=CYCLES_MAX // 2))

    def take(self, cycle: Cycle, start_utc_s: float) -> None:
        """One cycle more."""
        self.cycles += 1
        self.starts += cycle.is_start
        self.on_s += cycle.figures["on_time_s"].value or 0.0
        self.hidden_s += cycle.hidden_s
        for key, figure in cycle.figures.items():
            self._add(key, figure, round(start_utc_s, 3), cycle.is_start)
        told = {**cycle_record(cycle, start_utc_s), "number": self.cycles}
        (self.first if len(self.first) < CYCLES_MAX // 2 else self.last).append(told)

    def _add(self, key: str, figure: Figure, utc_s: float, is_start: bool) -> None:
        """What is surely passed: a value less, or more, half the width of its interval; and of a bound its one side."""
        if is_start and (figure.value is None or figure.bound is not Bound.NONE):
            self.unknown[key] = self.unknown.get(key, 0) + 1
        if figure.value is None:
            return
        half, open_ = figure.half or 0.0, figure.bound
        low = inf if open_ is Bound.LEAST else figure.value + half
        high = -inf if open_ is Bound.MOST else figure.value - half
        ends = self.ends.setdefault(key, [inf, 0, 0.0, -inf, 0, 0.0])
        if low < ends[0]:
            ends[:3] = low, self.cycles, utc_s
        if high > ends[3]:
            ends[3:] = high, self.cycles, utc_s

    def record(self, under_way: tuple[Cycle, float] | None = None) -> dict[str, Any]:
        """What is kept; `under_way`: the cycle that has not ended, and its start in UTC."""
        open_ = None if under_way is None else {**cycle_record(*under_way), "number": self.cycles + 1}
        return {
            "cycles": self.cycles,
            "starts": self.starts,
            "on_s": round(self.on_s, 3),
            "hidden_s": round(self.hidden_s, 3),
            "ends": {key: [each if isfinite(each) else None for each in its] for key, its in self.ends.items()},
            "unknown": dict(self.unknown),
            "table": [*self.first, *self.last],
            "under_way": open_,
        }


def table_of(record: dict[str, Any]) -> CycleTable:
    """The table that goes on from a record; the cycle that was under way is not in it. Raises as `cycle_read` does."""
    first, last = record["table"][: CYCLES_MAX // 2], record["table"][CYCLES_MAX // 2 :]
    table = CycleTable(*(record[key] for key in ("cycles", "starts", "on_s", "hidden_s")))
    table.ends = {key: [_end(k, each) for k, each in enumerate(its)] for key, its in record["ends"].items()}
    table.unknown, table.first = dict(record["unknown"]), list(first)
    table.last.extend(last)
    return table


def _end(k: int, kept: float | None) -> float:
    """One number of `ends`: where it is none, nothing was surely below or above so far."""
    return kept if kept is not None else inf if k == 0 else -inf


def not_kept(record: dict[str, Any]) -> str:
    """Which cycles are kept, where not all are; what rests on them says so. Empty: all are."""
    kept = len(record["table"])
    return (
        f"of the first {CYCLES_MAX // 2} and the newest {kept - CYCLES_MAX // 2} of {record['cycles']:,} cycles"
        if record["cycles"] > kept
        else ""
    )


def cycle_record(cycle: Cycle, start_utc_s: float) -> dict[str, Any]:
    """One cycle for JSON. A figure is [value, half width, bound, reason], its end left off where it is empty."""
    return {
        "number": cycle.number,
        "utc_s": round(start_utc_s, 3),
        "begun": cycle.begun.value,
        "ended": cycle.ended,
        "figures": {key: _figure(cycle.figures[key]) for key in KEYS},
        "doubts": list(cycle.doubts),
        "hidden_s": round(cycle.hidden_s, 3),
        "stalls": cycle.stalls,
        "reversals": cycle.reversals,
        "braked": cycle.braked,
    }


def cycle_read(record: dict[str, Any]) -> Cycle:
    """The cycle of a record; `start_s` is its start in UTC. Raises KeyError, TypeError or ValueError for another."""
    figures = {key: _read(record["figures"][key]) for key in KEYS}
    return Cycle(
        record["number"], record["utc_s"], Begun(record["begun"]), figures, tuple(record["doubts"]),
        record["hidden_s"], record["stalls"], record["reversals"], record["braked"], record["ended"],
    )  # fmt: skip


def _figure(figure: Figure) -> list[Any]:
    told = [_rounded(figure.value), _rounded(figure.half), figure.bound.value, figure.reason]
    while told[-1] in (None, "") and len(told) > 1:
        told.pop()
    return told


def _read(told: list[Any]) -> Figure:
    nothing: list[Any] = [None, None, "", ""]
    value, half, bound, reason = [*told, *nothing[len(told) :]]
    return Figure(value, half, reason, Bound(bound))


def _rounded(value: float | None) -> float | None:
    return None if value is None else float(f"{value:.{_DIGITS}g}")
