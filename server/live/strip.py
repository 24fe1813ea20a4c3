"""Speed and current since the start of a cycle: the first 1.5 s row by row, the rest thinned to at most 1200 columns.

Pure, and bounded however long a cycle lasts: once the columns are full, each two become one.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

WIDE_S = 1.5
ROW_S = 0.01
COLUMNS_MAX = 1200
WIDE_ROWS = round(WIDE_S / ROW_S)
SPANS_MAX = 200  # states and gaps that are kept; beyond it the oldest go: a ribbon of more could not be read
GAP_S = 5 * ROW_S  # rows that stay away longer are a gap


@dataclass(slots=True)
class Span:
    """From one moment to another, in seconds since the start; `to_s` moves on while it lasts."""

    state: str
    from_s: float
    to_s: float


class Strip:
    """One cycle. Times given are seconds since its start; rows come in order."""

    def __init__(self, start_utc_s: float) -> None:
        self.start_utc_s = start_utc_s
        self.end_s = 0.0
        self.states: list[Span] = []
        self.gaps: list[tuple[float, float]] = []
        self._wide = np.full((3, WIDE_ROWS), np.nan, dtype=np.float32)  # t, speed, current
        self._wide_rows = 0
        self._rest = np.full((5, COLUMNS_MAX), np.nan, dtype=np.float32)  # t, speed and current lowest, highest
        self._columns = 0
        self._column_rows = 1  # rows that make a column
        self._rows_in_last = 0

    def take(self, t: NDArray[np.float64], speed: NDArray[np.float64], current: NDArray[np.float64]) -> None:
        """Add rows, each array of shape (rows,): end of the row, speed in r/min, current in A; NaN for no value."""
        if t.size == 0:
            return
        if self.end_s and t[0] - self.end_s > GAP_S:
            self.gaps = [*self.gaps, (self.end_s, float(t[0]) - ROW_S)][-SPANS_MAX:]
            nothing = np.full(1, np.nan)
            self._add(np.stack((t[:1] - ROW_S, nothing, nothing)))  # so that no line crosses it
        self._add(np.stack((t, speed, current)))
        self.end_s = float(t[-1])
        if self.states:
            self.states[-1].to_s = self.end_s

    def enter(self, state: str, at_s: float) -> None:
        """The run state from `at_s` on, whatever it was taken for meanwhile."""
        if self.states and self.states[-1].state == state and self.states[-1].from_s <= at_s:
            return
        at_s = max(at_s, 0.0)
        kept = [span for span in self.states if span.from_s < at_s]
        if kept and kept[-1].state == state:
            at_s = kept.pop().from_s
        elif kept:
            kept[-1].to_s = at_s
        self.states = [*kept, Span(state, at_s, max(at_s, self.end_s))][-SPANS_MAX:]

    def _add(self, rows: NDArray[np.float64]) -> None:
        # a gap may push a row beyond the wide part before that is full of rows: time decides, not the count
        wide = min(int(np.searchsorted(rows[0], WIDE_S, side="right")), WIDE_ROWS - self._wide_rows)
        self._wide[:, self._wide_rows : self._wide_rows + wide] = rows[:, :wide]
        self._wide_rows += wide
        rows = rows[:, wide:]
        while rows.shape[1]:
            if self._rows_in_last == self._column_rows or not self._columns:
                self._next_column()
            taken = rows[:, : self._column_rows - self._rows_in_last]
            self._widen(taken)
            rows = rows[:, taken.shape[1] :]

    def _widen(self, rows: NDArray[np.float64]) -> None:
        last = self._columns - 1
        t, speed, current = rows
        self._rest[0, last] = t[-1]
        for low, values in ((1, speed), (3, current)):
            self._rest[low, last] = np.fmin(self._rest[low, last], np.fmin.reduce(values))
            self._rest[low + 1, last] = np.fmax(self._rest[low + 1, last], np.fmax.reduce(values))
        self._rows_in_last += rows.shape[1]

    def _next_column(self) -> None:
        if self._columns == COLUMNS_MAX:
            pairs = self._rest.reshape(5, COLUMNS_MAX // 2, 2)
            halved = np.fmin(pairs[..., 0], pairs[..., 1])
            halved[[0, 2, 4]] = np.fmax(pairs[..., 0], pairs[..., 1])[[0, 2, 4]]
            self._columns = COLUMNS_MAX // 2
            self._rest[:] = np.nan
            self._rest[:, : self._columns] = halved
            self._column_rows *= 2
        self._columns += 1
        self._rows_in_last = 0

    def record(self) -> dict[str, object]:
        """The strip of SOCKET.md but for `synchronous_speed_rpm`."""
        wide, rest = self._wide[:, : self._wide_rows], self._rest[:, : self._columns]
        names = ("t", "speed_low", "speed_high", "current_low", "current_high")
        return {
            "start_utc_s": self.start_utc_s,
            "wide_s": WIDE_S,
            "end_s": self.end_s,
            "wide": dict(zip(("t", "speed", "current"), wide, strict=True)),
            "rest": dict(zip(names, rest, strict=True)),
            "states": [{"state": span.state, "from_s": span.from_s, "to_s": span.to_s} for span in self.states],
            "gaps": [list(gap) for gap in self.gaps],
        }
