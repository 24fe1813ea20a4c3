"""One window of one group while its blocks come: words first, SI units when somebody asks for them.

Most of the work on samples is the same for one block as for a hundred, so nothing is scaled before the window is
finished, unless the picture needs the newest stretch at once.
"""

from collections.abc import Sequence
from typing import overload

import numpy as np
from numpy.typing import NDArray

from server.samples import Samples
from server.stream.scaling import Group, clipped_in, scale_words


class Filling:
    """Window `number` of a group. Stretches are added in turn; those that are never added are missing."""

    def __init__(self, group: Group, number: int, first_tick: int) -> None:
        self.group = group
        self.first = number * group.window
        self.end = self.first + group.window
        self.first_tick = first_tick
        self._values: NDArray[np.float64] | None = None
        self._clipped: NDArray[np.bool_] | None = None
        self._held: list[tuple[int, int]] = []  # stretches that came, within the window, ends excluded
        self._waiting: list[tuple[int, list[bytes]]] = []  # start and words of those that are not scaled yet

    @property
    def whole(self) -> bool:
        """Every sample came."""
        return len(self._held) == 1 and self._held[0] == (0, self.group.window)

    def add(self, start: int, stop: int, words: list[bytes]) -> None:
        """Samples `start` to `stop` of the window came as these words. They lie behind all that came before."""
        if self._held and self._held[-1][1] == start:
            self._held[-1] = self._held[-1][0], stop
            if self._waiting:
                self._waiting[-1][1].extend(words)
                return
        else:
            self._held.append((start, stop))
        self._waiting.append((start, list(words)))

    def stretch(self, start: int, stop: int) -> Samples:
        """Samples of a stretch that came."""
        values, clipped = self._scaled()
        tick = self.first_tick + self.group.ticks(start)
        part = self.group.unmissed[start:stop]
        return self._samples(self.first + start, tick, values[:, start:stop], part, clipped[:, start:stop])

    def samples(self) -> Samples:
        """The window as it is; NaN where samples are missing."""
        values, clipped = self._scaled()
        missing = self.group.unmissed
        if not self.whole:
            missing = np.ones(self.group.window, dtype=np.bool_)
            for start, stop in self._held:
                missing[start:stop] = False
            values[:, missing] = np.nan
        return self._samples(self.first, self.first_tick, values, missing, clipped)

    def _scaled(self) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
        """Values and marks of what came; what else stands in them means nothing yet."""
        group = self.group
        if self._values is None:
            self._values = np.empty((len(group.channels), group.window))
        for start, words in self._waiting:
            data = b"".join(words)
            stop = start + len(data) // group.set_bytes
            values = self._values[:, start:stop]
            scale_words(group, data, values)
            clipped = clipped_in(group, values)
            if clipped is None:
                continue
            if self._clipped is None:
                self._clipped = np.zeros_like(group.unclipped)
            self._clipped[:, start:stop] = clipped
        self._waiting.clear()
        return self._values, group.unclipped if self._clipped is None else self._clipped

    def _samples(
        self,
        first: int,
        tick: int,
        values: NDArray[np.float64],
        missing: NDArray[np.bool_],
        clipped: NDArray[np.bool_],
    ) -> Samples:
        group = self.group
        return Samples(
            group.channels, first, tick, float(group.ticks_per_sample), group.tick_hz, values, missing, clipped
        )


class Stretches(Sequence[Samples]):
    """New samples in turn, scaled when they are looked at."""

    def __init__(self, stretches: list[tuple[Filling, int, int]]) -> None:
        self._stretches = stretches

    def __len__(self) -> int:
        return len(self._stretches)

    @overload
    def __getitem__(self, index: int) -> Samples: ...

    @overload
    def __getitem__(self, index: slice) -> tuple[Samples, ...]: ...

    def __getitem__(self, index: int | slice) -> Samples | tuple[Samples, ...]:
        if isinstance(index, slice):
            return tuple(window.stretch(start, stop) for window, start, stop in self._stretches[index])
        window, start, stop = self._stretches[index]
        return window.stretch(start, stop)
