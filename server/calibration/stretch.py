"""The last seconds of one group of evenly sampled channels, cut into pieces, and what a channel does in them. Pure.

The pieces are what scatter is told from (JCGM 100, 4.2: type A): each gives one value, and their spread is that of the
value. A piece in which a sample is missing does not count.
"""

from collections import deque
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from server.samples import Channel, Samples
from server.signals import find_tone, means, phasors, transform, whole_cycles

PIECE_S = 0.2  # ten cycles of 50 Hz, twelve of 60 Hz
PIECE_SAMPLES_MIN = 16
PIECES = 15  # three seconds: 14 degrees of freedom
_ORDERS = 15  # for the share of harmonics
_ROUNDING = 1e-9  # of the largest value: a level's own
_TONE_SHARE_MIN = 0.5  # of all that alternates: less is no fundamental


class Stretch:
    """Takes samples of one group in turn and keeps the newest pieces. Other channels, or a jump back, begin it anew."""

    def __init__(self) -> None:
        self.channels: tuple[Channel, ...] = ()
        self.rate_hz = 0.0
        self._pieces: deque[tuple[NDArray[np.float64], NDArray[np.bool_]]] = deque(maxlen=PIECES)
        self._open: list[Samples] = []
        self._next = -1

    def take(self, block: Samples) -> None:
        """Add what came; a gap leaves out the piece that it falls into."""
        if block.channels != self.channels or block.rate_hz != self.rate_hz or block.first_sample < self._next:
            self.channels, self.rate_hz = block.channels, block.rate_hz
            self._pieces.clear()
            self._open.clear()
        elif block.first_sample != self._next:
            self._open.clear()
        self._next = block.first_sample + block.count
        if block.missing.any():
            self._open.clear()
            return
        self._open.append(block)
        while sum(each.count for each in self._open) >= self.piece:
            self._cut()

    @property
    def piece(self) -> int:
        """Samples in a piece."""
        return max(round(PIECE_S * self.rate_hz), PIECE_SAMPLES_MIN)

    @property
    def count(self) -> int:
        return len(self._pieces)

    @property
    def full(self) -> bool:
        return len(self._pieces) == PIECES

    def _cut(self) -> None:
        values = np.concatenate([each.values for each in self._open], axis=1)
        clipped = np.concatenate([each.clipped for each in self._open], axis=1)
        self._pieces.append((values[:, : self.piece].copy(), clipped[:, : self.piece]))
        last, left = self._open[-1], values.shape[1] - self.piece
        self._open.clear()
        if left:
            kept = slice(last.count - left, last.count)
            self._open.append(
                Samples(
                    *(last.channels, last.first_sample + last.count - left, 0, last.ticks_per_sample, last.tick_hz),
                    *(last.values[:, kept], last.missing[kept], last.clipped[:, kept]),
                )
            )

    def row(self, channel: Channel) -> int | None:
        """Which row a channel is; None: it is not of this group."""
        return next((k for k, each in enumerate(self.channels) if each.index == channel.index), None)

    def seen(self, row: int, clock: int | None = None) -> "PieceStatistics":
        """What a channel did, piece by piece; `clock`: the row whose frequency is taken, by rule its own.

        At least one piece must be there.
        """
        own = row if clock is None else clock
        return _seen([(values[row], values[own]) for values, _ in self._pieces], self.rate_hz)

    def clipped(self, row: int) -> bool:
        """Whether a sample lay at or beyond an end of the range."""
        return any(bool(clipped[row].any()) for _, clipped in self._pieces)


@dataclass(frozen=True, slots=True)
class PieceStatistics:
    """One number a piece each: mean and RMS (over whole cycles where there are any), `spread` about the mean.

    `hertz`: the fundamental, None where a piece has none; then no `phasors` (RMS, orders 1 to 15 or as the rate lets).
    """

    mean: NDArray[np.float64]
    rms: NDArray[np.float64]
    spread: NDArray[np.float64]
    hertz: NDArray[np.float64] | None
    phasors: NDArray[np.complex128] | None  # (pieces, orders)

    @property
    def distortion(self) -> float:
        """RMS of the harmonics over that of the fundamental, mean of the pieces; 0 without a fundamental."""
        if self.phasors is None:
            return 0.0
        sizes = np.abs(self.phasors)
        return float((np.sqrt((sizes[:, 1:] ** 2).sum(axis=1)) / sizes[:, 0]).mean())


def _seen(pieces: list[tuple[NDArray[np.float64], NDArray[np.float64]]], rate_hz: float) -> PieceStatistics:
    cycles = [_cycles(own) for _, own in pieces]
    mean, rms, spread, orders = [], [], [], list[NDArray[np.complex128]]()
    for (values, _), its in zip(pieces, cycles, strict=True):
        row = values[np.newaxis]
        over = means(row, ([], []), whole_cycles(values.size, its))
        mean.append(float(over.values[0]))
        rms.append(float(np.sqrt(over.squares[0])))
        spread.append(float(values.std()))
        if its is not None:
            most = min(_ORDERS, int((values.size // 2 - 2) / its))
            orders.append(phasors(transform(row), values.size, its, most)[0])
    known = [its for its in cycles if its is not None]
    steady = len(known) == len(pieces)
    least = min((each.size for each in orders), default=0)
    return PieceStatistics(
        *(np.array(mean), np.array(rms), np.array(spread)),
        np.array(known) * rate_hz / pieces[0][0].size if steady else None,
        np.array([each[:least] for each in orders]) if steady else None,
    )


def _cycles(values: NDArray[np.float64]) -> float | None:
    """Cycles of the fundamental in a piece; None where there is none."""
    tone = find_tone(transform(values[np.newaxis])[0], values.size, values.size / 8)
    least = max(_TONE_SHARE_MIN * float(values.std()), _ROUNDING * float(np.abs(values).max()))
    if tone is None or tone.rms <= least:
        return None
    return tone.cycles
