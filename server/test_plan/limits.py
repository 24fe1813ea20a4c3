"""Which limits of a plan were passed, where and when, and where nobody can say. Pure."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from server.duty.cycle import FIGURES
from server.quantities import QUANTITIES
from server.test_plan.counting import Ran
from server.test_plan.plan import Ends, Most, Plan

_LABELS = {each.key: (each.label, each.unit) for each in QUANTITIES}
_FIGURES = {each.key: (each.label, each.unit) for each in FIGURES}


@dataclass(frozen=True, slots=True)
class Failure:
    """A limit that was passed beyond its uncertainty. `cycle`: its number in the run, None where it is no cycle's."""

    key: str
    text: str
    run: str
    utc_s: float
    cycle: int | None = None


def failures(plan: Plan, runs: Sequence[Ran]) -> list[Failure]:
    """The first that passed each limit in each run, in the order of time."""
    found = [
        each
        for run in runs
        if run.evidence is not None
        for each in (
            *(one for ends in plan.readings for one in _of_reading(ends, run)),
            *(one for ends in plan.cycles for one in _of_cycles(ends, run)),
        )
    ]
    for most in plan.events:
        found += _too_often(most, runs, "events")
    for most in plan.verdicts:
        found += _too_often(most, runs, "verdicts")
    return sorted(found, key=lambda each: each.utc_s)


def unknowns(plan: Plan, runs: Sequence[Ran]) -> list[str]:
    """What a limit asks for and nobody knows, where that is more than the plan allows."""
    told = []
    read = [run for run in runs if run.evidence is not None]
    for ends in plan.readings:
        if read and not any(ends.key in _extremes(run, ends.state) for run in read):
            told.append(f"{_name(ends.key)} has a limit and was never known well for a second")
    for ends in plan.cycles:
        total = sum(run.duty["starts"] for run in read)
        missing = min(sum(run.duty["unknown"].get(ends.key, 0) for run in read), total)  # former records count more
        if total and 100.0 * missing / total > plan.unknown_percent:
            told.append(f"{_FIGURES[ends.key][0]} has a limit and is not known of {missing} of {total} cycles")
        elif read and not any(ends.key in run.duty["ends"] for run in read):
            told.append(f"{_FIGURES[ends.key][0]} has a limit and was never known")
    return told


def _extremes(run: Ran, state: str) -> dict[str, list[float]]:
    assert run.evidence is not None
    its: dict[str, list[float]] = run.evidence["extremes"].get(state, {})
    return its


def _of_reading(ends: Ends, run: Ran) -> Iterator[Failure]:
    """Limits of a reading were passed for a second in a row."""
    its = _extremes(run, ends.state).get(ends.key)
    if its is None:
        return
    low, low_utc_s, high, high_utc_s = its
    unit = _LABELS[ends.key.partition(".")[0]][1]
    if ends.high is not None and high > ends.high:
        yield Failure(
            ends.key, _words(_name(ends.key), "rose to", high, "above", ends.high, unit), run.name, high_utc_s
        )
    if ends.low is not None and low < ends.low:
        yield Failure(ends.key, _words(_name(ends.key), "fell to", low, "below", ends.low, unit), run.name, low_utc_s)


def _of_cycles(ends: Ends, run: Ran) -> Iterator[Failure]:
    """A figure of a cycle was beyond its limit by more than half the width of its interval."""
    its = run.duty["ends"].get(ends.key)
    if its is None:
        return
    low, low_number, low_utc_s, high, high_number, high_utc_s = its
    label, unit = _FIGURES[ends.key]
    if ends.high is not None and high is not None and high > ends.high:
        text = _words(label, "was at least", high, "above", ends.high, unit)
        yield Failure(ends.key, text, run.name, high_utc_s, int(high_number))
    if ends.low is not None and low is not None and low < ends.low:
        text = _words(label, "was at most", low, "below", ends.low, unit)
        yield Failure(ends.key, text, run.name, low_utc_s, int(low_number))


def _too_often(most: Most, runs: Sequence[Ran], what: str) -> list[Failure]:
    """Counted over all runs; told of the run in which it became too often, and of the moment."""
    so_far, passed = 0, None
    for run in runs:
        its = run.evidence[what].get(most.key) if run.evidence is not None else None
        if its is None:
            continue
        count, first_utc_s, text = its
        if passed is None and so_far + count > most.most:
            passed = run, text, _moment(run, most.key, most.most - so_far, first_utc_s)
        so_far += count
    if passed is None:
        return []
    run, text, utc_s = passed
    times = "once" if so_far == 1 else f"{so_far} times"
    return [Failure(most.key, f"{text.rstrip('.')}: {times}, and {most.most} allowed", run.name, utc_s)]


def _moment(run: Ran, key: str, number: int, first_utc_s: float) -> float:
    """When an event came for the time of this number, from 0; that of the last one that is kept, if it is none."""
    assert run.evidence is not None
    moments: list[float] = run.evidence.get("moments", {}).get(key) or [first_utc_s]
    return moments[min(number, len(moments) - 1)]


def _name(reading: str) -> str:
    key, _, place = reading.partition(".")
    label = _LABELS[key][0]
    return f"{label}, {place}" if place else label


def _words(what: str, verb: str, value: float, side: str, limit: float, unit: str) -> str:
    return f"{what[0].upper()}{what[1:]} {verb} {value:.4g} {unit}, {side} {limit:.4g} {unit}".replace(
        " ,", ","
    ).rstrip()
