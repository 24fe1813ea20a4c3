"""Where nothing of a stretch of time was recorded, and why: in runs, between them, and at its end. Pure."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import inf

from server.alarms.notice import Notice, Told
from server.runs.holes import HOLE_S
from server.runs.library import RunSummary
from server.runs.log.marked import WINDOW_S_MAX
from server.runs.log.reading import Part

STILL_S = 10.0  # the log of a run that is recorded is so far behind at most
AFTER_S = 60.0  # an alarm that is raised so soon after a run has closed is of that run
SILENT, CLOSED, NO_RUN = "nothing came", "run closed", "no run was recorded"  # the first: and no mark says why
NO_SAMPLES = "no samples"  # so far, and no mark says why


@dataclass(frozen=True, slots=True)
class Hole:
    """Nothing was recorded from here to there, and why, in a few words."""

    from_utc_s: float
    to_utc_s: float
    reason: str


def end_of(run: RunSummary, sample_utc_s: float, told_utc_s: float, alarms: Iterable[Notice]) -> float:
    """Up to when a run goes that is not recorded now: to its last sample, or to the last thing that is known of it
    without one, such as that its cable is out, or that an alarm is raised for that."""
    over_utc_s = inf if run.closed_utc_s is None else run.closed_utc_s
    raised = [each.at_utc_s for each in alarms if each.kind is Told.RAISED and each.at_utc_s <= over_utc_s + AFTER_S]
    known_utc_s = max(sample_utc_s, told_utc_s, *raised)
    has_hole = told_utc_s > sample_utc_s - WINDOW_S_MAX or known_utc_s - sample_utc_s > HOLE_S
    return max(known_utc_s, run.closed_utc_s) if has_hole and run.closed_utc_s is not None else known_utc_s


def ends_of(parts: Sequence[Part], runs: Sequence[RunSummary], to_utc_s: float) -> list[float]:
    """Of each run, up to when nothing may have come of it: it closed, or the next one began."""
    ends, next_utc_s = list[float](), to_utc_s
    for part, run in zip(reversed(parts), reversed(runs), strict=True):
        ends.append(min(next_utc_s, inf if run.closed_utc_s is None else run.closed_utc_s))
        next_utc_s = next_utc_s if part.span is None else min(next_utc_s, part.span[0])
    return ends[::-1]


def between(
    parts: Sequence[Part],
    runs: Sequence[RunSummary],
    span: tuple[float, float],
    now_utc_s: float,
    told_utc_s: Mapping[str, float] | None = None,
    pause_s: float = 0.0,
) -> list[Hole]:
    """Where no run was: before the first, between two, behind the last. `told_utc_s`: of a run, up to when its log
    tells itself why nothing came; `pause_s`: so long nothing may come behind the last one, as its readings are rare."""
    holes, at_utc_s, reason = list[Hole](), span[0], NO_RUN
    over_utc_s = -inf
    for part, run in zip(parts, runs, strict=True):
        if part.span is None:
            continue
        if part.span[0] - at_utc_s > HOLE_S:
            holes.append(Hole(at_utc_s, part.span[0], reason))
        at_utc_s = max(at_utc_s, part.span[1], (told_utc_s or {}).get(run.name, -inf))
        over_utc_s = inf if run.closed_utc_s is None else run.closed_utc_s
        reason = f"{CLOSED}: {run.reason}" if run.closed_utc_s is not None and run.reason else NO_SAMPLES
    behind_s = STILL_S if span[1] >= now_utc_s - STILL_S else HOLE_S
    if span[1] - at_utc_s <= max(behind_s, pause_s):
        return holes
    return [*holes, Hole(at_utc_s, span[1], NO_SAMPLES if span[1] <= over_utc_s else reason)]


def cut(holes: Iterable[Hole], to_utc_s: float) -> list[Hole]:
    """In the order of time, none over another; what is told first keeps its reason."""
    found: list[Hole] = []
    for each in sorted(holes, key=lambda hole: (hole.from_utc_s, -hole.to_utc_s)):
        from_utc_s, until = max(each.from_utc_s, found[-1].to_utc_s if found else 0.0), min(each.to_utc_s, to_utc_s)
        if until > from_utc_s:
            found.append(Hole(from_utc_s, until, each.reason))
    return found


def gone_of(holes: Sequence[Hole], to_utc_s: float) -> Hole | None:
    """The last one, where it has not ended and the run had not closed."""
    last = holes[-1] if holes else None
    if last is None or last.to_utc_s < to_utc_s or last.reason.startswith((CLOSED, NO_RUN)):
        return None
    return last
