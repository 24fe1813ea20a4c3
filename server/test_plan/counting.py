"""What the runs of a test add up to: starts, hours, time that is unknown. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from server.duty.cycle import Cycle
from server.duty.equilibrium import Point, Span
from server.duty.table import cycle_read
from server.test_plan.plan import Plan

HOUR_S = 3600.0
BEFORE_S = 10.0  # from before a motor is switched on, in a run that opens by that
RUNS_MAX = 500  # of one test; the oldest of more are told as not read
MANY_RUNS = f"it is not read, as there are more than {RUNS_MAX} runs"


@dataclass(frozen=True, slots=True)
class Ran:
    """One run of the rig. `evidence`: the record of `Evidence`; None, and `why_not`, where it cannot be read yet; with
    a record `why_not` says what is not in it.

    `missing_s`: time without samples within the run. `live`: it is recorded now. `waits`: what is not read of it will
    be, as soon as it is summed up.
    """

    name: str
    opened_utc_s: float
    closed_utc_s: float | None = None
    evidence: dict[str, Any] | None = None
    why_not: str = ""
    missing_s: float = 0.0
    live: bool = False
    waits: bool = False

    @property
    def duty(self) -> dict[str, Any]:
        return {} if self.evidence is None else self.evidence["duty"]


@dataclass(frozen=True, slots=True)
class Counted:
    """`starts`, `on_s`: at least so many. `watched_s`: time of all runs that were read; `unknown_s`: of it without
    samples; `hidden_s`: of that, where a start or a stop may lie. `cycles`: those that are kept, numbered through all
    runs, `start_s` in UTC; the last may be under way. `left_out`: cycles that were counted but are not kept."""

    starts: int
    on_s: float
    watched_s: float
    unknown_s: float
    hidden_s: float
    cycles: tuple[Cycle, ...]
    left_out: int
    unread: tuple[str, ...]


def counts(plan: Plan, opened_utc_s: float) -> bool:
    """Whether a run that opened then belongs to the test: a run has what came just before it opened, too."""
    return opened_utc_s >= (plan.begins or 0.0) - BEFORE_S


def counted(runs: Sequence[Ran]) -> Counted:
    """Over all runs, in the order in which they opened."""
    starts, on_s, watched_s, unknown_s, hidden_s, kept, before = 0, 0.0, 0.0, 0.0, 0.0, list[Cycle](), 0
    for run in runs:
        if run.evidence is None:
            continue
        duty, cycles = run.duty, cycles_of(run)
        open_ = duty.get("under_way")
        starts += duty["starts"] + (0 if open_ is None else cycles[-1].is_start)
        on_s += duty["on_s"] + (0.0 if open_ is None else cycles[-1].figures["on_time_s"].value or 0.0)
        hidden_s += duty["hidden_s"] + (0.0 if open_ is None else cycles[-1].hidden_s)
        watched_s += max(_length_s(run.evidence), run.missing_s)  # of a part that nobody can read all is missing
        unknown_s += run.missing_s
        kept += [replace(each, number=before + each.number) for each in cycles]
        before += duty["cycles"] + (open_ is not None)
    unread = tuple(f"{run.name}: {run.why_not}" for run in runs if run.evidence is None)
    return Counted(starts, on_s, watched_s, unknown_s, hidden_s, tuple(kept), before - len(kept), unread)


def cycles_of(run: Ran) -> list[Cycle]:
    """The cycles that are kept of a run, the one under way last; `start_s` in UTC."""
    duty = run.duty
    records = [*duty.get("table", ()), *([duty["under_way"]] if duty.get("under_way") else [])]
    return [cycle_read(each) for each in records]


def temperatures(runs: Sequence[Ran], reading: str) -> list[Point]:
    """The slow record of a temperature over all runs, (UTC, °C)."""
    found = [point for run in runs if run.evidence for point in run.evidence["temperatures"].get(reading, ())]
    return sorted((float(at), float(value)) for at, value in found)


def spans_on(cycles: Sequence[Cycle]) -> list[Span]:
    """When the motor was on, UTC."""
    return [(each.start_s, each.start_s + (each.figures["on_time_s"].value or 0.0)) for each in cycles]


def _length_s(evidence: dict[str, Any]) -> float:
    begin, end = evidence["from_utc_s"], evidence["to_utc_s"]
    return 0.0 if begin is None or end is None else max(end - begin, 0.0)
