"""Readings of a run from its log, in chunks of an hour: what takes minutes to play is read in seconds.

They are those of a replay, to the last digit: the log was written by the same calls. `source_of` says whether it knows
all of a stretch. Of samples that were thinned away it alone knows, and then it is taken as far as it goes.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from math import inf
from pathlib import Path

import numpy as np

from server.export.format import Chunk, Played, Series
from server.runs.log.reading import LogError
from server.runs.log.table import Cells, Table
from server.runs.log.tables import TableReader
from server.runs.segments import last_entry
from server.runs.thinned_run import thinned_stretches

BEHIND_S = 15.0  # the log of a run that is recorded is so far behind at most, and a stretch without readings so long
OWN_FAULT = "our own fault: it came out as no number"
FROM_LOG = "read from the run's log, as they were computed when that was written"
PLAYED = "computed again from the recorded samples"


@dataclass(frozen=True, slots=True)
class Source:
    """Where figures come from: `log` or not, and that in words, with what is missing and why."""

    log: bool
    words: str


AGAIN = Source(False, f"{PLAYED}, as was asked for")


def source_of(run: Path, from_utc_s: float = -inf, to_utc_s: float = inf) -> Source:
    """The log where it knows all of a span (UTC seconds), or where samples were thinned away. Raises OSError."""
    lacking = lacks(run, from_utc_s, to_utc_s)
    if not lacking:
        return Source(True, FROM_LOG)
    thinned = any(each.from_utc_s <= to_utc_s and each.to_utc_s >= from_utc_s for each in thinned_stretches(run))
    if thinned and _is_readable(run):
        return Source(True, f"{FROM_LOG}, as samples were thinned away since; {lacking}")
    return Source(False, f"{PLAYED}, as {lacking}")


def lacks(run: Path, from_utc_s: float, to_utc_s: float) -> str:
    """What of a span the log does not know, in words; empty: nothing. Raises OSError."""
    try:
        with TableReader(run) as log:
            meta, span = log.meta, log.span
            if meta.get("incomplete") or meta.get("lost_instants"):
                return f"{meta.get('lost_instants') or 'some'} instants are not in it ({meta.get('incomplete')})"
            if not meta.get("closed") and not _is_up_to_date(run, log, span, to_utc_s):
                return "its log ends before it does"
            if without := log.without_margins(from_utc_s, to_utc_s):
                return f"its log has {without} instants without what they may be off by and without lists"
    except LogError as error:
        return str(error)
    return ""


def _is_readable(run: Path) -> bool:
    try:
        with TableReader(run) as log:
            return log.span is not None
    except LogError:
        return False


def _is_up_to_date(run: Path, log: TableReader, span: tuple[float, float] | None, to_utc_s: float) -> bool:
    """Of a run that is open, or was left so: whether the log is where the segments are, or behind the span."""
    if span is not None and span[1] >= to_utc_s:
        return True
    last = last_entry(run)
    return last is not None and last.entry.utc_s - max(log.newest_mark_utc_s, span[1] if span else 0.0) <= BEHIND_S


def logged_chunks(run: Path, from_utc_s: float, to_utc_s: float, rows_max: int, played: Played) -> Iterator[Chunk]:
    """All readings of a span, its ends included. Raises LogError."""
    with TableReader(run) as log:
        for table in log.tables(from_utc_s, to_utc_s, rows_max, OWN_FAULT):
            played(float(table.utc_s[-1]))
            yield _chunk(table)


def _chunk(table: Table) -> Chunk:
    series = {key: _series(cells) for key, cells in table.cells.items()}
    return Chunk(table.utc_s, table.utc_u95_s, table.board_s, series, table.reasons)


def _series(its: Cells) -> Series:
    if its.kind != "number":
        none = np.full(its.confidence.size, np.nan)
        return Series(its.kind, its.values, none, its.confidence, its.reason)
    if np.isnan(its.below).all():
        return Series(its.kind, its.values, its.u95, its.confidence, its.reason)
    low95, high95 = its.values - its.below, its.values + its.above
    return Series(its.kind, its.values, its.u95, its.confidence, its.reason, low95, high95)
