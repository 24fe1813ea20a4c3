"""What a stretch of time came to, as far as the logs of its runs tell: nothing is played for it.

A report knows all, once the run has closed; this is there at once, also while a run is recorded, and over several runs.
Its answer is put into words by the same function.
"""

from collections import Counter, defaultdict, deque
from collections.abc import Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from math import inf
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from server.alarms.notice import Notice
from server.report.holes import SILENT, STILL_S, Hole, between, cut, end_of, ends_of, gone_of
from server.report.make import alarms_of
from server.report.report import Happened, Spell
from server.report.states import NOT_RECORDED, UNKNOWN, spent_of
from server.report.stories import with_standing
from server.runs.account import Reason, reason_of
from server.runs.holes import HOLE_S
from server.runs.layout import is_time
from server.runs.library import RunSummary
from server.runs.log.columns import Grid
from server.runs.log.reading import TOLD_MAX, LogError, LogReader, Part, Trends, trends
from server.verdict import Verdict, verdict_of

EVER = (0.0, inf)
STATES_READ_MAX = 50_000  # of a run: a motor that starts and stops every four seconds for half a day
COLUMNS = 4000  # for sums over the stretch
NEAR_S = 30.0  # so long the mean before stands in for one that did not come
SHORT = 0.01  # of the time: of less that is not known the sums do not speak
TOLD, EACH_MAX = ("stalled", "concluded"), 50  # kinds of events that are told one by one; so many first and newest
POWER, CURRENT, CHARGE = "active_power_w", "current_mean_a", "charge_ah"  # the last is there for direct current alone


@dataclass(frozen=True, slots=True)
class Logged:
    """As in a Report, of all runs together, and as sums: `counts` of events by their kind; `energy_j`, `charge_c` None
    where nothing measures them, and with `sums_short` they are at least so much, as a part is not known; `parts`: the
    runs with the stretches that they hold."""

    from_utc_s: float
    to_utc_s: float
    parts: tuple[Part, ...]
    holes: tuple[Hole, ...]
    spells: tuple[Spell, ...]
    verdicts: tuple[Verdict, ...]
    events: tuple[Happened, ...]  # those of TOLD
    counts: dict[str, int]
    alarms: tuple[Notice, ...] | None
    account: tuple[dict[str, Any], ...]
    energy_j: float | None
    charge_c: float | None
    sums_short: bool
    troubles: tuple[str, ...]
    gone: Hole | None = None  # since when nothing has come any more of a run that has not closed
    standing: frozenset[str] = frozenset()  # ids of alarms that stand now, where it reaches to now

    @property
    def gaps(self) -> tuple[tuple[float, float], ...]:
        return tuple((each.from_utc_s, each.to_utc_s) for each in self.holes)

    @property
    def spent(self) -> dict[str, tuple[int, float]]:
        return spent_of(self.spells)

    @property
    def length_s(self) -> float:
        return max(0.0, self.to_utc_s - self.from_utc_s)


def logged(
    folder: Path,
    runs: Sequence[RunSummary],
    span: tuple[float, float] | None,
    now_utc_s: float,
    account: tuple[dict[str, Any], ...] = (),
    goes_on: bool = False,
    standing: Sequence[Notice] = (),
) -> Logged:
    """Of these runs, the oldest first, in the folder of all runs. `span`: UTC seconds; None: all of one run. `goes_on`:
    the last one is recorded now, and so is its log: what did not come up to now is missing so far. `standing`: what
    raised the alarms that stand now, none of a run that is over; they are told of what reaches to now, whenever they
    came."""
    folders = [folder / each.name for each in runs]
    kept = [its for each in runs if (its := alarms_of(folder / each.name, each.rig)) is not None]
    alarms = [notice for its in kept for notice in its]
    from_utc_s, to_utc_s = span or _whole(runs, folders, alarms, now_utc_s if goes_on else None)
    found = trends(folders, [POWER, CURRENT], (from_utc_s, to_utc_s), COLUMNS)
    held = [part.span for part in found.parts if part.span is not None]
    now_utc_s = max(now_utc_s, *(up for _, up in held), from_utc_s)  # what was recorded is not ahead
    to_utc_s = min(to_utc_s, now_utc_s)
    told = _Told()
    for run, part, end_utc_s in zip(folders, found.parts, ends_of(found.parts, runs, to_utc_s), strict=True):
        told.read(run, part, (from_utc_s, to_utc_s), span or EVER, end_utc_s)
    apart = between(found.parts, runs, (from_utc_s, to_utc_s), now_utc_s, told.until, told.pause_s)
    holes = tuple(cut([*told.holes, *apart], to_utc_s))
    begun = [(part.span[0], UNKNOWN) for part in found.parts if part.span is not None]
    within = _within(alarms, (from_utc_s, to_utc_s))
    reaches_now = goes_on if span is None else to_utc_s > now_utc_s - STILL_S
    if span is not None:  # of a run that goes on all stand in it, though its log may have stopped for want of room
        standing = [each for each in standing if reaches_now and each.at_utc_s <= to_utc_s]
    stand = tuple(standing)
    (energy, charge), short = _sums(found, holes, (from_utc_s, to_utc_s))
    return Logged(
        from_utc_s,
        to_utc_s,
        tuple(found.parts),
        holes,
        spells_of([*begun, *told.states], holes, (from_utc_s, to_utc_s)),
        tuple(told.verdicts),
        tuple(sorted(told.events, key=lambda each: each.utc_s)),
        dict(told.counts),
        with_standing(within, stand) if kept or stand else None,
        account,
        energy,
        charge,
        bool(holes) or short,
        (*[part.trouble for part in found.parts if part.trouble], *told.troubles),
        gone_of(holes, to_utc_s) if span is None or (goes_on and reaches_now) else None,
        frozenset(each.id for each in stand),
    )


def _whole(
    runs: Sequence[RunSummary], folders: Sequence[Path], alarms: Sequence[Notice], now_utc_s: float | None
) -> tuple[float, float]:
    """From the first instant to now, or, where that is None, to where the runs end; 0 where nothing is known."""
    told = [(run, its) for run, path in zip(runs, folders, strict=True) if (its := _told_span(path)) is not None]
    begin_utc_s = min((since for _, (since, _, _) in told), default=0.0)
    ends = (end_of(run, sample_utc_s, mark_utc_s, alarms) for run, (_, sample_utc_s, mark_utc_s) in told)
    return begin_utc_s, max(begin_utc_s, *ends, now_utc_s if now_utc_s is not None and told else 0.0)


def _told_span(run: Path) -> tuple[float, float, float] | None:
    """UTC of its first and last instant and of the last mark; None where nothing is known."""
    with suppress(LogError), LogReader(run) as log:
        return None if log.span is None else (*log.span, log.mark_utc_s if is_time(log.mark_utc_s) else 0.0)
    return None


def _within(told: list[Notice], span: tuple[float, float]) -> tuple[Notice, ...]:
    """The whole lives of alarms of which something was told in the span, each change once."""
    theirs = {each.id for each in told if span[0] <= each.at_utc_s <= span[1]}
    return tuple({each.number: each for each in told if each.id in theirs}.values())


class _Told:
    """What the logs say beside readings and states."""

    def __init__(self) -> None:
        self.holes: list[Hole] = []
        self.first: defaultdict[str, list[Happened]] = defaultdict(list)
        self.newest: defaultdict[str, deque[Happened]] = defaultdict(lambda: deque(maxlen=EACH_MAX))
        self.counts: Counter[str] = Counter()
        self.states: list[tuple[float, str]] = []
        self.verdicts: list[Verdict] = []
        self.troubles: list[str] = []
        self.until: dict[str, float] = {}  # of a run, up to when a hole goes that has not ended
        self.pause_s = 0.0  # so far behind the newest instant the next one may lie, as in `silences`

    def read(
        self, run: Path, part: Part, span: tuple[float, float], of_events: tuple[float, float], end_utc_s: float
    ) -> None:
        """A log that cannot be read has said so in its part. `of_events`: what began a run lies before its readings;
        `end_utc_s`: up to when nothing may have come of it."""
        if part.span is None:
            return
        try:
            with LogReader(run) as log:
                marked = log.gaps(*span)
                for since, until, text in marked:
                    self._hole(since, end_utc_s if until is None else until, reason_of(text))
                    if until is None:
                        self.until[run.name] = end_utc_s
                for since, until in log.silences(*span):
                    if not any(low < until and (up is None or up > since) for low, up, _ in marked):
                        self.holes.append(Hole(since, until, SILENT))
                self.pause_s = next((2.0 * its.interval_s for _, its in log.instants(part.span[1], inf)), 0.0)
                states = log.states(*span, STATES_READ_MAX)
                events = log.told("events", *of_events)
                for each in events:
                    self._event(each)
                for each in log.told("verdicts", *of_events)[-1:]:  # those that stood at the end
                    self.verdicts = [verdict_of(record) for record in each["record"]]
        except (LogError, LookupError, TypeError, ValueError) as error:  # whatever stands in the file
            self.troubles.append(f"{run.name}: what happened cannot be read whole ({error})")
            return
        self.states += states
        if len(states) >= STATES_READ_MAX:
            self.troubles.append(f"{run.name}: of the run state {STATES_READ_MAX} changes are read, and no more")
        if len(events) >= TOLD_MAX:
            self.troubles.append(f"{run.name}: there is more than {TOLD_MAX} events, and the rest is not counted")

    def _hole(self, since: float, until: float, reason: Reason) -> None:
        if until - since > HOLE_S:
            self.holes.append(Hole(since, until, reason.value))

    def _event(self, told: dict[str, Any]) -> None:
        kind, record = told["record"]["kind"], told["record"]
        self.counts[kind] += 1
        if kind in TOLD:
            found = Happened(told["utc_s"], kind, record["text"], record["detail"], record["decisive"])
            first = len(self.first[kind]) < EACH_MAX
            (self.first if first else self.newest)[kind].append(found)

    @property
    def events(self) -> list[Happened]:
        """Of each kind the first and the newest."""
        return [each for kept in (self.first, self.newest) for kind in kept.values() for each in kind]


def spells_of(
    changes: Iterable[tuple[float, str]], holes: Sequence[Hole], span: tuple[float, float]
) -> tuple[Spell, ...]:
    """From end to end of the span; unknown before the first change, not recorded in holes, alike neighbours joined."""
    told = sorted(((max(utc_s, span[0]), state) for utc_s, state in changes), key=lambda each: each[0])
    moments = [(utc_s, state, "") for utc_s, state in told]
    moments += [
        (utc_s, "", mark) for hole in holes for utc_s, mark in zip(_ends(hole), (NOT_RECORDED, "over"), strict=True)
    ]
    moments.sort(key=lambda each: each[0])
    spells: list[Spell] = []
    at_utc_s, state, hole = span[0], UNKNOWN, False
    for utc_s, word, mark in [*moments, (span[1], "", "")]:
        until = min(max(utc_s, at_utc_s), span[1])
        now = NOT_RECORDED if hole else state
        if until > at_utc_s and spells and spells[-1].state == now:
            spells[-1] = Spell(now, spells[-1].from_utc_s, until)
        elif until > at_utc_s:
            spells.append(Spell(now, at_utc_s, until))
        at_utc_s, state, hole = until, word or state, mark == NOT_RECORDED if mark else hole
    return tuple(spells)


def _ends(hole: Hole) -> tuple[float, float]:
    return hole.from_utc_s, hole.to_utc_s


def _sums(found: Trends, holes: Sequence[Hole], span: tuple[float, float]) -> tuple[list[float | None], bool]:
    """Energy and charge, None where nothing measures them; whether a part of either is not known."""
    sums, short = list[float | None](), False
    for key, there in ((POWER, POWER), (CURRENT, CHARGE)):
        value, missing_s = sum_over(found.grid, found.bands[key].mean, holes, span)
        known = there in found.there
        sums.append(value if known else None)
        short = short or (known and missing_s > SHORT * (span[1] - span[0]))
    return sums, short


def sum_over(
    grid: Grid, mean: NDArray[np.float32], holes: Sequence[Hole], span: tuple[float, float]
) -> tuple[float, float]:
    """Integral of a reading over the span without its holes, and for how many seconds of that it is not known.

    `mean`, shape (columns,): of each column. One without a value takes that of the last one, if it is near.
    """
    edges = np.clip(grid.from_utc_s + grid.column_s * np.arange(grid.columns + 1), *span)
    lengths_s = np.diff(edges)
    for hole in holes:
        cut_s = np.minimum(edges[1:], hole.to_utc_s) - np.maximum(edges[:-1], hole.from_utc_s)
        lengths_s -= np.clip(cut_s, 0.0, None)
    lengths_s = np.clip(lengths_s, 0.0, None)
    known = np.isfinite(mean)
    newest = np.maximum.accumulate(np.where(known, np.arange(grid.columns), -1))
    near = (newest >= 0) & ((np.arange(grid.columns) - newest) * grid.column_s <= NEAR_S)
    values = np.where(near, mean[newest], 0.0).astype(np.float64)
    return float(values @ lengths_s), float(lengths_s[~near].sum())
