"""The samples of a run as rows, gaps in their place. Plays the run without computing anything from it; reads only.

A gap up to a second is in its place sample by sample; a longer one is one row, so that a night without a board does not
become a file of nothing.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from math import inf
from pathlib import Path
from typing import Any

import numpy as np

from server.export.format import LATE_S, Column, ExportError, Floats, Played, Rows, Wanted, Waves, utc_text
from server.pipeline import Description, Output
from server.runs.course import Course
from server.runs.jump import BEFORE_S, entries_at
from server.runs.layout import Entry
from server.runs.replay import outputs, recorded
from server.samples import Channel, Samples

GAP_WHOLE_S = 1.0
ROWS_AT_ONCE = 16_384  # what is written at once: per row it then costs next to nothing, and it is a megabyte


def waves_of(run: Path, rig: str, wanted: Wanted, digest: dict[str, Any] | None, played: Played) -> Waves:
    """Raises ExportError where there is nothing, or no such group; OSError where the folder cannot be read."""
    source = _Source(run, rig, wanted, digest, played)
    first = next(source.pieces(lambda utc_s: None), None)
    if first is None:
        raise ExportError("there are no samples in this span; choose another one")
    columns, rate_hz = _columns(first.samples.channels), first.samples.rate_hz

    def rows() -> Iterator[Rows]:
        return _joined(source.rows(columns, rate_hz))

    return Waves(columns, rate_hz, rows, {"start_utc": utc_text(first.utc_s), "start_utc_s": first.utc_s})


@dataclass(frozen=True, slots=True)
class _Piece:
    """A stretch of samples that came; `utc_s`: of its first one. `anew`: the board began to count anew before it."""

    samples: Samples
    utc_s: float
    anew: bool


class _Source:
    def __init__(self, run: Path, rig: str, wanted: Wanted, digest: dict[str, Any] | None, played: Played) -> None:
        self._run, self._rig, self._wanted, self._digest, self._played = run, rig, wanted, digest, played

    def _entries(self) -> Iterator[Entry | str]:
        since = self._wanted.from_utc_s
        jumped = None
        if self._digest is not None and since > (self._digest.get("from_utc_s") or inf) + 2.0 * BEFORE_S:
            jumped = entries_at(self._run, self._digest, since)
        return recorded(self._run) if jumped is None else jumped

    def pieces(self, played: Played) -> Iterator[_Piece]:
        """Those of the group that have a part in the span."""
        course, group = Course(self._rig, samples_only=True), self._wanted.group
        anew = False
        for part in outputs(self._entries(), course, self._wanted.to_utc_s + LATE_S, played):
            anew |= part.anew
            if group is None and part.samples and course.pipeline is not None:
                group = _fastest(course.pipeline.description)
            for piece in self._of(part, group, anew):
                anew = False
                yield piece

    def _of(self, part: Output, group: int | None, anew: bool) -> Iterator[_Piece]:
        for samples in part.samples:
            if samples.channels[0].group != group:
                continue
            utc_s = part.clock.utc_s(samples.first_tick / samples.tick_hz)
            length_s = samples.count / samples.rate_hz
            if utc_s <= self._wanted.to_utc_s and utc_s + length_s > self._wanted.from_utc_s:
                yield _Piece(samples, utc_s, anew)
                anew = False

    def rows(self, columns: tuple[Column, ...], rate_hz: float) -> Iterator[Rows]:
        due, known = _Due(rate_hz, len(columns)), tuple[Channel, ...]()
        for piece in self.pieces(self._played):
            same = piece.samples.channels is known or _columns(piece.samples.channels, like=columns) == columns
            known = piece.samples.channels
            if not same or piece.samples.rate_hz != rate_hz:
                when = utc_text(piece.utc_s)
                raise ExportError(
                    f"the channels are others from {when} on; export what lies before (--to) and behind (--from) apart"
                )
            gap = due.gap(piece)
            if gap is not None:
                yield from self._cut(gap)
            yield from self._cut(due.came(piece))

    def _cut(self, rows: Rows) -> Iterator[Rows]:
        inside = (rows.utc_s >= self._wanted.from_utc_s) & (rows.utc_s <= self._wanted.to_utc_s)
        if inside.all():
            yield rows
        elif inside.any():
            clipped = None if rows.clipped is None else rows.clipped[inside]
            yield Rows(rows.utc_s[inside], rows.time_s[inside], rows.values[inside], clipped, rows.missing[inside])


class _Due:
    """Where the next sample is due. `time_s` goes on as the board counts, and by UTC where it began anew."""

    def __init__(self, rate_hz: float, channels: int) -> None:
        self._rate_hz, self._channels = rate_hz, channels
        self._next: int | None = None  # the sample that comes next
        self._next_utc_s = self._next_time_s = 0.0

    def gap(self, piece: _Piece) -> Rows | None:
        """Rows for what did not come before this piece."""
        if self._next is None:
            return None
        missing = piece.samples.first_sample - self._next
        if piece.anew or missing < 0:  # how many there were is known by the clock alone
            missing = max(1, round((piece.utc_s - self._next_utc_s) * self._rate_hz))
        if missing == 0:
            return None
        whole = missing <= GAP_WHOLE_S * self._rate_hz
        places = np.arange(missing if whole else 1)
        values = np.full((places.size, self._channels), np.nan)
        counts = np.full(places.size, 1 if whole else missing, np.int64)
        rows = Rows(*self._times(places, self._next_utc_s), values, None, counts)
        self._next_time_s += missing / self._rate_hz
        return rows

    def came(self, piece: _Piece) -> Rows:
        samples = piece.samples
        places = np.arange(samples.count)
        clipped = samples.clipped.T if samples.clipped.any() else None
        missing = np.zeros(samples.count, np.int64)
        rows = Rows(*self._times(places, piece.utc_s), samples.values.T, clipped, missing)
        self._next = samples.first_sample + samples.count
        self._next_time_s += samples.count / self._rate_hz
        self._next_utc_s = piece.utc_s + samples.count / self._rate_hz
        return rows

    def _times(self, places: np.ndarray[Any, np.dtype[np.int64]], utc_s: float) -> tuple[Floats, Floats]:
        along = places / self._rate_hz
        return utc_s + along, self._next_time_s + along


def _joined(rows: Iterator[Rows]) -> Iterator[Rows]:
    """The same in pieces of about ROWS_AT_ONCE, times from the first row on."""
    waiting: list[Rows] = []
    count, first_s = 0, None
    for each in rows:
        first_s = float(each.time_s[0]) if first_s is None else first_s
        waiting.append(each)
        count += each.missing.size
        if count >= ROWS_AT_ONCE:
            yield _one(waiting, first_s)
            waiting, count = [], 0
    if waiting and first_s is not None:
        yield _one(waiting, first_s)


def _one(rows: list[Rows], first_s: float) -> Rows:
    clipped = None
    if any(each.clipped is not None for each in rows):
        marks = (np.zeros(each.values.shape, np.bool_) if each.clipped is None else each.clipped for each in rows)
        clipped = np.concatenate(list(marks))
    return Rows(
        np.concatenate([each.utc_s for each in rows]),
        np.concatenate([each.time_s for each in rows]) - first_s,
        np.concatenate([each.values for each in rows]),
        clipped,
        np.concatenate([each.missing for each in rows]),
    )


def _fastest(description: Description | None) -> int | None:
    """The group of the highest rate, of the fewest number where several have it."""
    held = () if description is None else description.held_channels
    rates = {each.group: each.ticks_per_sample for each in held if each.group is not None and each.ticks_per_sample}
    return min(rates, key=lambda group: (rates[group], group), default=None)


def _columns(channels: tuple[Channel, ...], like: tuple[Column, ...] = ()) -> tuple[Column, ...]:
    """The channels; no two have one name. `like`: what a calibration changes is taken from there."""
    found: list[Column] = []
    for k, each in enumerate(channels):
        name = each.name or f"channel {each.index}"
        if any(name == other.name for other in found):
            name = f"{name} ({each.index})"
        range_of = like[k] if k < len(like) else each
        kept = range_of.low, range_of.high, range_of.step, range_of.delay_s
        found.append(Column(name, each.unit, each.place, each.role.name.lower(), *kept))
    return tuple(found)
