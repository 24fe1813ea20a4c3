"""The last seconds of one group of evenly sampled channels, each sample in its place. Pure; its size is fixed.

What it shows is the last second; a stretch of what it holds beyond that can be cut out, to be kept.
"""

import numpy as np
from numpy.typing import NDArray

from server.live.cut import Cut
from server.samples import Samples

SECONDS = 1.0
HELD_S = 6.0  # a start is told up to seconds after it, and a person wants what was before it
SAMPLES_MAX = 200_000  # a board that claims an absurd rate gets a shorter picture, not all of the memory


class Ring:
    """Takes blocks of one group in turn. What it shows is contiguous, oldest first, and valid until the next `take`."""

    def __init__(self, block: Samples) -> None:
        self.channels = block.channels
        self.rate_hz = block.rate_hz
        self._tick_hz = block.tick_hz
        self._second, self._capacity = (
            int(min(max(np.ceil(block.rate_hz * seconds), 1), SAMPLES_MAX)) for seconds in (SECONDS, HELD_S)
        )
        room = 2 * self._capacity  # half of it is moved to the front once it is full: cheap, and no seam in the window
        self._values = np.full((len(block.channels), room), np.nan, dtype=np.float32)
        self._clipped = np.zeros((len(block.channels), room), dtype=np.bool_)
        self._missing = np.zeros(room, dtype=np.bool_)
        self._end = 0
        self._next_sample = block.first_sample
        self._end_tick = float(block.first_tick)

    def fits(self, block: Samples) -> bool:
        """Whether the block goes on where this ring ends, or after a jump: same channels and rate, no step back."""
        same = block.channels == self.channels and block.rate_hz == self.rate_hz and block.tick_hz == self._tick_hz
        return same and block.first_sample >= self._next_sample

    def take(self, block: Samples) -> None:
        """Add a block that fits. Samples that the board never promised before it are missing ones."""
        gap = min(block.first_sample - self._next_sample, self._capacity)
        if gap:
            room = self._room(gap)
            self._values[:, room], self._clipped[:, room], self._missing[room] = np.nan, False, True
        count = min(block.count, self._capacity)
        if count:
            room, newest = self._room(count), slice(block.count - count, block.count)
            self._values[:, room] = block.values[:, newest]
            self._clipped[:, room] = block.clipped[:, newest]
            self._missing[room] = block.missing[newest]
        self._next_sample = block.first_sample + block.count
        self._end_tick = block.first_tick + block.count * block.ticks_per_sample

    def _room(self, count: int) -> slice:
        if self._end + count > self._missing.size:
            kept = slice(self._end - self._capacity, self._end)
            for buffer in (self._values, self._clipped, self._missing):
                buffer[..., : self._capacity] = buffer[..., kept]
            self._end = self._capacity
        self._end += count
        return slice(self._end - count, self._end)

    @property
    def _shown(self) -> slice:
        return slice(max(self._end - self._second, 0), self._end)

    @property
    def values(self) -> NDArray[np.float32]:
        """Shape (channels, samples), SI units, NaN where missing."""
        return self._values[:, self._shown]

    @property
    def clipped(self) -> NDArray[np.bool_]:
        """Shape (channels, samples)."""
        return self._clipped[:, self._shown]

    @property
    def missing(self) -> NDArray[np.bool_]:
        """Shape (samples,)."""
        return self._missing[self._shown]

    @property
    def count(self) -> int:
        return self._end - max(self._end - self._second, 0)

    @property
    def end_s(self) -> float:
        """Board time at which the sample after the newest is due."""
        return self._end_tick / self._tick_hz

    @property
    def first_s(self) -> float:
        """Board time of the oldest sample shown."""
        return self.end_s - self.count / self.rate_hz

    @property
    def oldest_s(self) -> float:
        """Board time of the oldest sample that can be cut out."""
        return self.end_s - min(self._end, self._capacity) / self.rate_hz

    def cut(self, from_s: float, to_s: float) -> Cut | None:
        """A copy of the samples between two board times, as far as they are held; None where none is."""
        last = self._end - max(int(np.floor((self.end_s - to_s) * self.rate_hz)), 0)
        first = self._end - min(int(np.ceil((self.end_s - from_s) * self.rate_hz)), self._end, self._capacity)
        if last <= first:
            return None
        at, first_s = slice(first, last), self.end_s - (self._end - first) / self.rate_hz
        values, clipped = self._values[:, at].copy(), self._clipped[:, at].copy()
        return Cut(self.channels, self.rate_hz, first_s, values, clipped, self._missing[at].copy())
