"""What one run has to say to a test plan: cycles, extremes of readings, temperatures, what happened. Pure.

It does not know the plan: so a plan that is changed is judged anew without playing a run again. Its size is bounded
however long the run was.
"""

from collections.abc import Mapping
from typing import Any

from server.duty.table import CycleTable, cycle_read, table_of
from server.pipeline import Output, Pipeline
from server.test_plan.extremes import Extremes
from server.test_plan.warmth import Warmth
from server.verdict import Certainty

KINDS_MAX = 200  # of events and of verdicts each: more than there are
MOMENTS_MAX = 200  # of a kind, the first ones: who allows more in one run is told that of the last


class Evidence:
    """Of one run with one pipeline: give it each output; `record()` is ready for JSON.

    `before`: the record of an earlier part of the run, from which this goes on.
    """

    def __init__(self, before: Mapping[str, Any] | None = None) -> None:
        kept = before or {}
        self._cycles, self._extremes = _cycles_so_far(kept.get("duty")), Extremes(kept.get("extremes"))
        self._warmth = Warmth(kept.get("temperatures"))
        self._events, self._verdicts = _copied(kept.get("events", {})), _copied(kept.get("verdicts", {}))
        self._moments = _copied(kept.get("moments", {}))  # of events by their kind
        self._from_s: float | None = kept.get("from_utc_s")
        self._to_s: float | None = kept.get("to_utc_s")

    def take(self, output: Output) -> None:
        """What one push brought; parts of earlier starts of the board are given each for itself."""
        clock = output.clock
        for cycle in output.cycles:
            self._cycles.take(cycle, clock.utc_s(cycle.start_s))
        for instant in output.instants:
            utc_s = clock.utc_s(instant.board_s)
            self._from_s = utc_s if self._from_s is None else min(self._from_s, utc_s)
            self._to_s = utc_s if self._to_s is None else max(self._to_s, utc_s)
            self._extremes.take(instant, utc_s)
            self._warmth.take(instant, utc_s)
        for event in output.events:
            utc_s = clock.utc_s(event.board_s)
            self._count(self._events, event.kind, utc_s, event.text)
            if event.kind in self._events and len(its := self._moments.setdefault(event.kind, [])) < MOMENTS_MAX:
                its.append(round(utc_s, 3))
        for verdict in output.verdicts or ():
            if verdict.certainty is not Certainty.OPEN and verdict.key not in self._verdicts and self._to_s is not None:
                self._count(self._verdicts, verdict.key, self._to_s, verdict.answer)

    @staticmethod
    def _count(counts: dict[str, list[Any]], key: str, utc_s: float, text: str) -> None:
        """How often, when first, and its words then."""
        if key in counts:
            counts[key][0] += 1
        elif len(counts) < KINDS_MAX:
            counts[key] = [1, round(utc_s, 3), text]

    def record(self, pipeline: Pipeline | None) -> dict[str, Any]:
        """What is kept so far; what comes later leaves it as it is. `pipeline`: the run's own, which knows the cycle
        that has not ended."""
        cycle = None if pipeline is None else pipeline.cycle_under_way()
        under_way = None if cycle is None or pipeline is None else (cycle, pipeline.clock.utc_s(cycle.start_s))
        return {
            "from_utc_s": self._from_s,
            "to_utc_s": self._to_s,
            "duty": self._cycles.record(under_way),
            "extremes": self._extremes.record(),
            "temperatures": self._warmth.record(),
            "events": _copied(self._events),
            "moments": _copied(self._moments),
            "verdicts": _copied(self._verdicts),
        }


def _copied(its: Mapping[str, list[Any]]) -> dict[str, list[Any]]:
    return {key: list(each) for key, each in its.items()}


def _cycles_so_far(duty: dict[str, Any] | None) -> CycleTable:
    """The cycle that was under way is told as it was: what comes next begins anew."""
    if duty is None:
        return CycleTable()
    table = table_of(duty)
    if duty["under_way"] is not None:
        table.take(cycle_read(duty["under_way"]), duty["under_way"]["utc_s"])
    return table
