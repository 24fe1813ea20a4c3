"""What an export is asked for, what a file format is, and what is known of the run that is exported. Records only."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from math import inf, isfinite
from pathlib import Path
from typing import Any, Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

What: TypeAlias = Literal["readings", "waveforms"]
Played: TypeAlias = Callable[[float], None]  # told the UTC seconds up to which a run was played
Floats: TypeAlias = NDArray[np.float64]
Share: TypeAlias = Callable[[float], None]  # told how far it is, from 0 to 1


LATE_S = 5.0  # an entry may hold samples that are so much older: what comes later is not of the span


class ExportError(Exception):
    """Why nothing was exported and what to do, in a sentence."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """What of a run is exported. Times are UTC seconds; `group`: of evenly sampled channels, None: the fastest one;
    `again`: readings are computed again from the samples, though the run's log has them."""

    what: What = "readings"
    from_utc_s: float = -inf
    to_utc_s: float = inf
    group: int | None = None
    again: bool = False


@dataclass(frozen=True, slots=True)
class Column:
    """A channel of a group as it is exported; `low`, `high`: the ends of its range, `step`: the value of one code."""

    name: str
    unit: str
    place: str
    role: str
    low: float
    high: float
    step: float
    delay_s: float

    @property
    def title(self) -> str:
        return f"{self.name} [{self.unit}]" if self.unit else self.name


@dataclass(frozen=True, slots=True)
class Rows:
    """Rows of samples. `values` (rows, channels), NaN where none came; `clipped` likewise or None: nowhere.

    `utc_s` by the board's clock against the PC's as known then; `time_s` from the first row on, exactly as the board
    sampled. `missing`: how many samples that did not come a row stands for, 0 for one that came.
    """

    utc_s: Floats
    time_s: Floats
    values: Floats
    clipped: NDArray[np.bool_] | None
    missing: NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Waves:
    """Waveforms of one group. `rows` plays the run; asked again, it plays it again and says the same."""

    columns: tuple[Column, ...]
    rate_hz: float
    rows: Callable[[], Iterator[Rows]]
    about: dict[str, Any]


@dataclass(frozen=True, slots=True)
class Series:
    """One reading over the rows of a chunk, under its id. `kind`: "number", "word" or "list".

    `confidence`: index into CONFIDENCES, 0 where the row has no such reading; `reason`: index into the chunk's reasons.
    `low95`, `high95`: the ends of an interval that a bound cuts, None where none of this chunk is.
    """

    kind: str
    values: Any  # (rows,) float64, NaN where there is none; or a list of words or of lists of numbers
    u95: Floats
    confidence: NDArray[np.int8]
    reason: NDArray[np.int32]
    low95: Floats | None = None
    high95: Floats | None = None

    def part(self, rows: slice) -> "Series":
        """Some of its rows."""
        ends = (None if end is None else end[rows] for end in (self.low95, self.high95))
        columns = self.values[rows], self.u95[rows], self.confidence[rows], self.reason[rows]
        return Series(self.kind, *columns, *ends)


UTC_S_MAX = 253_402_300_800.0  # the year 10000: no calendar goes on
CONFIDENCES = ("", "good", "doubtful", "absent")


@dataclass(frozen=True, slots=True)
class Chunk:
    """At most an hour of readings: rows are instants."""

    utc_s: Floats
    utc_u95_s: Floats  # NaN: the board's clock was not compared yet
    board_s: Floats
    series: dict[str, Series]
    reasons: Sequence[str]

    def part(self, rows: slice) -> "Chunk":
        """Some of its rows."""
        series = {key: its.part(rows) for key, its in self.series.items()}
        return Chunk(self.utc_s[rows], self.utc_u95_s[rows], self.board_s[rows], series, self.reasons)


@dataclass(frozen=True, slots=True)
class Field:
    """A reading as a column: its id, unit and kind, and whether some interval of it is cut by a bound."""

    id: str
    unit: str
    label: str
    kind: str
    cut: bool


@dataclass(frozen=True, slots=True)
class Readings:
    """Readings of a run, in chunks of an hour at most; `fields`: all that any row has, in the catalogue's order."""

    fields: tuple[Field, ...]
    chunks: Callable[[], Iterator[Chunk]]
    about: dict[str, Any]


@dataclass(frozen=True, slots=True)
class Export:
    """A file format. `needs`: modules of the extra `export` without which it cannot be written. `plays`: how often it
    reads a run for its waveforms."""

    key: str
    label: str
    suffix: str
    media_type: str
    readings: Callable[[Readings, Path], None] | None = None
    waveforms: Callable[[Waves, Path], None] | None = None
    needs: tuple[str, ...] = ()
    plays: int = 1

    @property
    def whats(self) -> tuple[What, ...]:
        """What it can hold, its usual content first."""
        one: tuple[What, ...] = ("readings",) if self.readings is not None else ()
        other: tuple[What, ...] = ("waveforms",) if self.waveforms is not None else ()
        return one + other


def utc_text(utc_s: float) -> str:
    """ISO 8601 to the microsecond; empty where no calendar has it."""
    if not isfinite(utc_s) or not 0.0 <= utc_s < UTC_S_MAX:
        return ""
    return f"{np.datetime64(round(utc_s * 1e6), 'us')}Z"
