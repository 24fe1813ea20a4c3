"""A log, open or closed, read: trends, states, what happened, instants. Writes nothing; any thread may call."""

import json
import sqlite3
import struct
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby, pairwise
from math import inf
from operator import itemgetter
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from server.readings import Instant
from server.runs.holes import HOLE_S
from server.runs.layout import is_time
from server.runs.log.blocks import Run
from server.runs.log.columns import Band, Columns, Grid, grid_of
from server.runs.log.marked import WINDOW_S_MAX, hole_of, in_parts
from server.runs.log.missing import Spans, lacking_words, spans_in
from server.runs.log.packed import LISTS, unpacked
from server.runs.log.sealed import unsealed
from server.runs.log.store import LOG, OtherVersionError, blocks_of, opened_to_read, rows_of
from server.runs.log.summary import LENGTHS_S

# What reading bytes raises that are none of ours.
_STRANGE = (ValueError, TypeError, AttributeError, OverflowError, RecursionError, struct.error)
_KNOWN_MAX = 4096  # layouts and texts that are remembered
STATES_MAX = 4000  # of one answer: more than a picture shows
LOOKS_MAX = 20_000  # for silences: every two seconds of a night, a tenth of a second of work
UNKNOWN = "unknown"  # a run state
GAPS_MAX = 400  # likewise
TOLD_MAX = 50_000  # events or verdicts: an event a second for half a day


class LogError(Exception):
    """A log cannot be read: a sentence. `broken`: it will not get better by itself, and is to be made again."""

    def __init__(self, said: str, broken: bool = False) -> None:
        super().__init__(said)
        self.broken = broken


@dataclass(frozen=True, slots=True)
class Part:
    """One run in trends: UTC of its first and last instant, None where it has none or cannot be read; `trouble`: what
    is missing and why, or empty; `broken`: its log is to be made again."""

    run: str
    span: tuple[float, float] | None
    trouble: str = ""
    broken: bool = False


@dataclass(frozen=True, slots=True)
class Trends:
    """Bands by the id of their reading; `there`: ids of all readings that the runs have; `states`: UTC seconds from
    which each run state holds, and its word, run after run, at most STATES_MAX."""

    grid: Grid
    bands: dict[str, Band]
    there: tuple[str, ...]
    parts: list[Part]
    states: list[tuple[float, str]]


class LogReader:
    """Of one run, for a `with`. Raises LogError, in every method too, whatever stands in the file."""

    def __init__(self, run: Path) -> None:
        path = run / LOG
        if path.is_symlink() or not path.is_file():
            raise LogError(f"{run.name} has no log yet")
        self._name = run.name
        self._layouts: dict[int, str] = {}
        with self._told():
            self._base = opened_to_read(path)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self._base.close()

    @property
    def span(self) -> tuple[float, float] | None:
        """UTC of the first and of the last instant; None where there is none."""
        with self._told():
            sql = "SELECT (SELECT min(utc_s) FROM instants), (SELECT max(utc_s) FROM instants)"  # each by the index
            ((first, last),) = self._base.execute(sql).fetchall()
            if first is None:
                return None
            if not (is_time(first) and is_time(last)):
                raise ValueError(f"{first} to {last} are no times")
            return first, last

    @property
    def mark_utc_s(self) -> float:
        """When it was last told why nothing comes; 0: never."""
        with self._told():
            return float(
                self._base.execute("SELECT coalesce(max(utc_s), 0) FROM marks WHERE kind = 'mark'").fetchone()[0]
            )

    @property
    def ids(self) -> list[str]:
        """Of all readings that are in it as numbers or words, in the order in which they came."""
        with self._told():
            rows = self._base.execute("SELECT ids FROM layouts ORDER BY number LIMIT ?", (_KNOWN_MAX,)).fetchall()
            there = dict.fromkeys(each for (ids,) in rows for each in ids.split("\n"))
            return [each for each in there if each.partition(".")[0] not in LISTS]

    @property
    def meta(self) -> dict[str, Any]:
        """What the log says of itself."""
        with self._told():
            return dict(self._base.execute("SELECT key, value FROM meta").fetchall())

    @property
    def whole_until_utc_s(self) -> float:
        """Up to when it goes, but for what is `missing`: with the end of the run, where that has closed (inf); -inf:
        there is nothing in it."""
        meta, span = self.meta, self.span
        if span is None:
            return -inf
        return inf if meta.get("closed") else span[1]

    @property
    def missing(self) -> Spans:
        """Stretches, UTC seconds, in which something may have happened that it does not know."""
        meta = self.meta
        return spans_in(meta.get("incomplete"), meta.get("missing"))

    def moments_utc_s(self) -> list[float]:
        """When each event happened, however many there are: what is kept around them must leave out none."""
        with self._told():
            return [float(utc_s) for (utc_s,) in self._base.execute("SELECT utc_s FROM events")]

    def fill(self, columns: Columns) -> None:
        """Add what the log has on the columns' grid."""
        grid, all_ended = columns.grid, bool(self.meta.get("closed"))
        with self._told():
            from_utc_s = grid.from_utc_s
            for level in range(grid.level, -1, -1):
                runs = self._runs(level, from_utc_s, grid.to_utc_s)
                for run in runs:
                    columns.add(level, run)
                if all_ended:
                    break
                newest = max((run.newest for run in runs), default=-1)
                if newest >= 0:  # what has not ended yet is in the levels below
                    from_utc_s = (newest + 1) * LENGTHS_S[level]

    def _runs(self, level: int, from_utc_s: float, to_utc_s: float) -> list[Run]:
        first, behind = int(from_utc_s // LENGTHS_S[level]), int(-(-to_utc_s // LENGTHS_S[level]))
        return [*blocks_of(self._base, level, first, behind), *rows_of(self._base, level, first, behind)]

    def states(self, from_utc_s: float, to_utc_s: float, most: int = STATES_MAX) -> list[tuple[float, str]]:
        """The run state at the first moment and all changes up to the last, so many at most, as `cut_short` says."""
        wanted = "SELECT utc_s, CAST(state AS TEXT) FROM states WHERE"
        before = f"{wanted} utc_s BETWEEN 0 AND ? ORDER BY utc_s DESC, number DESC LIMIT 1"
        behind = f"{wanted} utc_s > ? AND utc_s < ? ORDER BY utc_s, number LIMIT ?"
        with self._told():
            rows = self._base.execute(before, (from_utc_s,)).fetchall()
            return cut_short(rows + self._base.execute(behind, (from_utc_s, to_utc_s, most)).fetchall(), most)

    def silences(self, from_utc_s: float, to_utc_s: float) -> list[tuple[float, float]]:
        """Where instants lie further apart than HOLE_S, and than their readings may: the last one before and the first
        one behind. Of a long span, those that are longer than a share of it: it is not looked at instant by instant."""
        step_s = max(HOLE_S, (to_utc_s - from_utc_s) / LOOKS_MAX)
        next_in = "(SELECT max(utc_s) FROM instants WHERE utc_s > at.utc_s AND utc_s <= at.utc_s + ?)"
        next_one = "(SELECT min(utc_s) FROM instants WHERE utc_s > at.utc_s)"
        first = "(SELECT max(utc_s) FROM instants WHERE utc_s <= ?), (SELECT min(utc_s) FROM instants WHERE utc_s > ?)"
        sql = (
            f"WITH RECURSIVE at(utc_s) AS (SELECT coalesce({first}) UNION ALL"
            f" SELECT coalesce({next_in}, {next_one}) FROM at WHERE utc_s < ?) SELECT utc_s FROM at"
        )
        of_its = "SELECT max(interval_s) FROM instants WHERE utc_s = ?"
        with self._told():
            rows = self._base.execute(sql, (from_utc_s, from_utc_s, step_s, to_utc_s)).fetchall()
            at = [float(utc_s) for (utc_s,) in rows if utc_s is not None]
            apart = [(since, until) for since, until in pairwise(at) if until - since > step_s]
            return [
                (since, until)
                for since, until in apart
                if until - since > 2.0 * float(self._base.execute(of_its, (since,)).fetchone()[0])
            ][:GAPS_MAX]

    def gaps(self, from_utc_s: float, to_utc_s: float) -> list[tuple[float, float | None, str]]:
        """Where marks lie between two instants, the last one before and the first one behind (None: nothing came yet),
        and what a mark says of it; in parts where one thing came upon another. At most GAPS_MAX marks are read."""
        around = (
            "(SELECT max(utc_s) FROM instants WHERE utc_s <= marks.utc_s + {0}),"
            " (SELECT min(utc_s) FROM instants WHERE utc_s > marks.utc_s + {0})"
        )
        sql = (
            f"SELECT number, utc_s, text, {around.format(0)}, {around.format(WINDOW_S_MAX)} FROM marks"
            " WHERE kind = 'mark' AND utc_s >= ? AND utc_s < ? ORDER BY number LIMIT ?"
        )
        with self._told():
            rows = self._base.execute(sql, (from_utc_s, to_utc_s, GAPS_MAX)).fetchall()
            marks = [
                (hole, float(utc_s), str(text))
                for _, utc_s, text, *its in rows
                if (hole := hole_of(str(text), *its)) is not None
            ]
            marks.sort(key=lambda each: each[0][0])
            return [
                part
                for (since, until), its in groupby(marks, key=itemgetter(0))
                for part in in_parts(since, until, [(utc_s, text) for _, utc_s, text in its])
            ]

    def told(self, table: str, from_utc_s: float, to_utc_s: float) -> list[dict[str, Any]]:
        """`events` or `verdicts`, at most TOLD_MAX, in the order of their numbers: number, utc_s, board_s, record."""
        sql = {name: f"SELECT number, utc_s, board_s, record FROM {name}" for name in ("events", "verdicts")}[table]
        with self._told():
            rows = self._base.execute(
                f"{sql} WHERE utc_s >= ? AND utc_s < ? ORDER BY number LIMIT ?", (from_utc_s, to_utc_s, TOLD_MAX)
            )
            return [
                {"number": number, "utc_s": utc_s, "board_s": board_s, "record": json.loads(record)}
                for number, utc_s, board_s, record in rows
            ]

    def instants(self, from_utc_s: float, to_utc_s: float) -> Iterator[tuple[float, Instant]]:
        """UTC and readings of each instant in turn, without lists and without what they may be off by."""
        sql = "SELECT * FROM instants WHERE utc_s >= ? AND utc_s < ? ORDER BY number"
        text_of = lru_cache(_KNOWN_MAX)(self._text_of)
        with self._told():
            rows = self._base.execute(sql, (from_utc_s, to_utc_s))
            for number, utc_s, board_s, first_tick, tick, interval_s, layout, data in rows:
                ids = self._ids_of(layout)
                row = unsealed(data, ids, number, utc_s, board_s, first_tick, tick, interval_s)
                readings = tuple(unpacked(ids.split("\n"), row, text_of))
                yield utc_s, Instant(first_tick, tick, board_s, interval_s, readings)

    def _text_of(self, number: int) -> str:
        ((text,),) = self._base.execute("SELECT text FROM texts WHERE number = ?", (number,)).fetchall()
        return str(text)

    def _ids_of(self, layout: int) -> str:
        known = self._layouts.get(layout)
        if known is None:
            ((ids,),) = self._base.execute("SELECT ids FROM layouts WHERE number = ?", (layout,)).fetchall()
            if len(self._layouts) >= _KNOWN_MAX:
                self._layouts.clear()
            known = self._layouts[layout] = ids
        return known

    @contextmanager
    def _told(self) -> Iterator[None]:
        """Whatever goes wrong, as a LogError."""
        try:
            yield
        except OtherVersionError as error:
            raise LogError(f"{error}") from None
        except sqlite3.OperationalError as error:
            raise LogError(f"the log of {self._name} cannot be read now ({error})") from None
        except (sqlite3.Error, *_STRANGE) as error:
            raise LogError(f"the log of {self._name} is broken ({error})", broken=True) from None


def trends(runs: Sequence[Path], ids: Sequence[str], span: tuple[float, float] | None, columns: int) -> Trends:
    """Bands of readings over one or several runs, each with what it has; where none has anything there is a gap.
    At least so many columns and up to twice, fewer where they would be shorter than 1 s.

    `span`: from and to, UTC seconds; None: of all that the runs hold.
    """
    if span is None:
        held = [its for run in runs if (its := _span_of(run)) is not None]
        span = min((low for low, _ in held), default=0.0), max((high for _, high in held), default=0.0)
    made, states, there = Columns(grid_of(*span, columns), ids), list[tuple[float, str]](), dict[str, None]()
    parts = list[Part]()
    for run in runs:
        held_by = None
        try:
            with LogReader(run) as log:
                held_by = log.span
                there |= dict.fromkeys(log.ids)
                states += log.states(made.grid.from_utc_s, made.grid.to_utc_s)
                log.fill(made)
                parts.append(Part(run.name, held_by, lacking_words(log.meta.get("incomplete"), log.missing, *span)))
        except LogError as error:
            parts.append(Part(run.name, held_by, f"{error}", error.broken))
    return Trends(made.grid, made.bands(), tuple(there), parts, cut_short(states, STATES_MAX))


def cut_short(states: list[tuple[float, str]], most: int) -> list[tuple[float, str]]:
    """Where there are as many changes or more, nothing is known from the last of them on: it is not read here."""
    return states if len(states) < most else [*states[: most - 1], (states[most - 1][0], UNKNOWN)]


def _span_of(run: Path) -> tuple[float, float] | None:
    with suppress(LogError), LogReader(run) as log:
        return log.span
    return None
