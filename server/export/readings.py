"""The readings of a run, from its log or gathered by playing it once, in chunks of an hour: its columns are known at
the end.

What is gathered waits in a file, so that memory holds one hour at most.
"""

import pickle
from array import array
from collections.abc import Iterator
from dataclasses import dataclass, field
from math import isfinite, isnan, nan
from pathlib import Path
from typing import IO, Any

import numpy as np

from server.export.format import (
    CONFIDENCES,
    LATE_S,
    Chunk,
    ExportError,
    Field,
    Played,
    Readings,
    Series,
    Wanted,
    utc_text,
)
from server.export.logged import AGAIN, OWN_FAULT, Source, logged_chunks, source_of
from server.quantities import QUANTITIES
from server.readings import Confidence, Instant, Reading
from server.runs.course import Course
from server.runs.log.margins import is_list, margins_of, single
from server.runs.log.reading import LogError
from server.runs.replay import outputs, recorded

CHUNK_S = 3600.0
ROWS_MAX = 40_000  # of a chunk: five a second for an hour, and as many again of slow channels
REASONS_MAX = 10_000  # of a chunk: reasons have figures in them; then a chunk is shorter
_ORDER = {each.key: k for k, each in enumerate(QUANTITIES)}
_CATALOGUE = {each.key: each for each in QUANTITIES}


def readings_of(run: Path, rig: str, wanted: Wanted, file: IO[bytes], played: Played) -> Readings:
    """From the run's log where that knows all of the span; else the run is played from its beginning, as what looks
    back needs it. `file`: for what is gathered, our own and empty.

    Raises ExportError where there are none; OSError where a folder cannot be read or written.
    """
    fields: dict[str, Field] = {}
    first_utc_s = nan
    source = AGAIN if wanted.again else source_of(run, wanted.from_utc_s, wanted.to_utc_s)
    for chunk in _logged(run, wanted, played) if source.log else _chunks(run, rig, wanted, played):
        pickle.dump(chunk, file, pickle.HIGHEST_PROTOCOL)
        first_utc_s = first_utc_s if isfinite(first_utc_s) else float(chunk.utc_s[0])
        for key, series in chunk.series.items():
            known = fields.get(key)
            kind = series.kind if known is None or known.kind == series.kind else "word"
            cut = series.low95 is not None or (known is not None and known.cut)
            fields[key] = _field(key, kind, cut)
    if not fields:
        raise ExportError("there are no readings in this span; choose another one")
    in_order = sorted(fields.values(), key=lambda each: (_ORDER.get(each.id.partition(".")[0], len(_ORDER)), each.id))
    about = {"start_utc": utc_text(first_utc_s), "start_utc_s": first_utc_s, "source": _told(source)}
    return Readings(tuple(in_order), lambda: _kept(file), about)


def source_words(run: Path, wanted: Wanted) -> str:
    """Where readings come from, as a person reads it; empty: waveforms are the samples themselves. Raises OSError."""
    if wanted.what != "readings":
        return ""
    return _told(AGAIN if wanted.again else source_of(run, wanted.from_utc_s, wanted.to_utc_s))


def _told(source: Source) -> str:
    return f"Readings: {source.words}."


def _kept(file: IO[bytes]) -> Iterator[Chunk]:
    file.seek(0)
    while True:
        try:
            yield pickle.load(file)  # nobody else can have written there: the file has no name (make.py)
        except EOFError:
            return


def _field(reading_id: str, kind: str, cut: bool) -> Field:
    its = _CATALOGUE.get(reading_id.partition(".")[0])
    return Field(reading_id, its.unit if its else "", its.label if its else reading_id, kind, cut)


def _logged(run: Path, wanted: Wanted, played: Played) -> Iterator[Chunk]:
    try:
        yield from logged_chunks(run, wanted.from_utc_s, wanted.to_utc_s, ROWS_MAX, played)
    except LogError as error:
        raise ExportError(
            f"{error}; slipring repair {run} --do makes it again, and --again exports without it"
        ) from None


def _chunks(run: Path, rig: str, wanted: Wanted, played: Played) -> Iterator[Chunk]:
    course, gathered = Course(rig), _Gathered()
    for part in outputs(recorded(run), course, wanted.to_utc_s + LATE_S, played):
        for instant in part.instants:
            utc_s = part.clock.utc_s(instant.board_s)
            if wanted.from_utc_s <= utc_s <= wanted.to_utc_s:
                if gathered.is_full(utc_s):
                    yield gathered.chunk()
                    gathered = _Gathered()
                gathered.add(instant, utc_s, part.clock.uncertainty_s)
    if gathered.count:
        yield gathered.chunk()


@dataclass(slots=True)
class _Column:
    """One reading so far; what came before it is empty."""

    kind: str
    values: Any
    u95: "array[float]"
    low95: "array[float]"
    high95: "array[float]"
    confidence: "array[int]"
    reason: "array[int]"
    cut: bool = False


@dataclass(slots=True)
class _Gathered:
    """A chunk while it grows."""

    count: int = 0
    utc_s: "array[float]" = field(default_factory=lambda: array("d"))
    utc_u95_s: "array[float]" = field(default_factory=lambda: array("d"))
    board_s: "array[float]" = field(default_factory=lambda: array("d"))
    columns: dict[str, _Column] = field(default_factory=dict)
    reasons: dict[str, int] = field(default_factory=lambda: {"": 0})

    def is_full(self, utc_s: float) -> bool:
        if self.count >= ROWS_MAX or len(self.reasons) >= REASONS_MAX:
            return True
        return bool(self.count) and utc_s >= (self.utc_s[0] // CHUNK_S + 1) * CHUNK_S

    def add(self, instant: Instant, utc_s: float, uncertainty_s: float | None) -> None:
        self.utc_s.append(utc_s)
        self.utc_u95_s.append(nan if uncertainty_s is None else uncertainty_s)
        self.board_s.append(instant.board_s)
        for each in instant.readings:
            column = self.columns.get(each.id)
            kind = _kind(each)
            if column is None or (column.kind != kind and each.value is not None):
                column = self.columns[each.id] = _column_of(kind, column)
            _fill(column, self.count)
            self._put(column, each)
        self.count += 1

    def _put(self, column: _Column, reading: Reading) -> None:
        confidence, value, reason = reading.confidence, reading.value, reading.reason
        if isinstance(value, float) and not isfinite(value):
            confidence, value, reason = Confidence.ABSENT, None, OWN_FAULT
        u95 = low95 = high95 = nan
        margins = None if value is None or column.kind != "number" else margins_of(reading)
        if margins is not None and isinstance(value, int | float):
            u95, below, above = single(margins).tolist()  # as the log keeps them
            if not isnan(below):
                low95, high95, column.cut = value - below, value + above, True
        column.values.append(_stored(column.kind, value))
        column.u95.append(u95)
        column.low95.append(low95)
        column.high95.append(high95)
        column.confidence.append(CONFIDENCES.index(confidence.value))
        column.reason.append(self.reasons.setdefault(reason, len(self.reasons)))

    def chunk(self) -> Chunk:
        """What there is."""
        for column in self.columns.values():
            _fill(column, self.count)
        series = {key: _series(column) for key, column in self.columns.items()}
        utc_s, utc_u95_s, board_s = (np.array(each) for each in (self.utc_s, self.utc_u95_s, self.board_s))
        return Chunk(utc_s, utc_u95_s, board_s, series, tuple(self.reasons))


def _kind(reading: Reading) -> str:
    if is_list(reading):
        return "list"
    return "word" if isinstance(reading.value, str) else "number"


def _column_of(kind: str, before: _Column | None) -> _Column:
    """An empty column, or the same with values of another kind: absent rows came first, and have none."""
    values = array("d") if kind == "number" else []
    if before is None:
        return _Column(kind, values, array("d"), array("d"), array("d"), array("b"), array("i"))
    if any(before.confidence[k] not in (0, 3) for k in range(len(before.confidence))):
        kind, values = "word", [_stored("word", _value_of(before, k)) for k in range(len(before.values))]
    else:
        values.extend([_stored(kind, None)] * len(before.values))
    return _Column(kind, values, before.u95, before.low95, before.high95, before.confidence, before.reason, before.cut)


def _value_of(column: _Column, k: int) -> Any:
    return column.values[k] if column.confidence[k] in (1, 2) else None


def _stored(kind: str, value: Any) -> Any:
    if kind == "number":
        return nan if value is None else float(value)
    if kind == "list":
        return () if value is None else tuple(single(value).tolist())
    return "" if value is None else str(value)


def _fill(column: _Column, count: int) -> None:
    """Rows without this reading, up to `count`."""
    lacking = count - len(column.confidence)
    if lacking <= 0:
        return
    column.values.extend([_stored(column.kind, None)] * lacking)
    for each in (column.u95, column.low95, column.high95):
        each.extend([nan] * lacking)
    column.confidence.extend([0] * lacking)
    column.reason.extend([0] * lacking)


def _series(column: _Column) -> Series:
    values = np.array(column.values) if column.kind == "number" else column.values
    ends = (np.array(column.low95), np.array(column.high95)) if column.cut else (None, None)
    confidence, reason = np.array(column.confidence, np.int8), np.array(column.reason, np.int32)
    return Series(column.kind, values, np.array(column.u95), confidence, reason, *ends)
