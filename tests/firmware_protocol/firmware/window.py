"""The window of the emulated board (boards/mps2_an385/window.h): sets, edges and pulses in, what it has read out."""

import mmap
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

BYTES = 16 << 20  # the machine's third RAM
CHANNELS, TICKS_PER_SAMPLE = 8, 50
_RING, _SETS_AT, _EDGES_AT = 4096, 0x1000, 0x1000 + 4096 * 32
_SET = np.dtype([("codes", "<i2", CHANNELS), ("flags", "u1"), ("spare", "u1", 15)])
_EDGE = np.dtype([("set", "<u4"), ("ticks", "<u2"), ("levels", "u1"), ("spare", "u1")])
_SETS_WRITTEN, _EDGES_WRITTEN, _PULSES, _WINDING, _SETS_READ, _EDGES_READ, _BOOT = 0, 1, 2, 3, 16, 17, 18


class Window:
    """A file that the emulator maps too. The board takes a set when it is there: time stands while none comes."""

    def __init__(self, path: Path) -> None:
        self.path = path
        with path.open("wb") as file:
            file.truncate(BYTES)
        with path.open("r+b") as file:
            self._map = mmap.mmap(file.fileno(), BYTES)
        self._words = np.frombuffer(self._map, "<u4", 32)
        self._sets = np.frombuffer(self._map, _SET, _RING, _SETS_AT)
        self._edges = np.frombuffer(self._map, _EDGE, _RING, _EDGES_AT)

    def close(self) -> None:
        del self._words, self._sets, self._edges
        self._map.close()
        self.path.unlink()

    @property
    def fed(self) -> int:
        """Sets written so far."""
        return int(self._words[_SETS_WRITTEN])

    @property
    def waiting(self) -> int:
        """Sets written and not yet taken by the board."""
        return self.fed - int(self._words[_SETS_READ])

    @property
    def boot(self) -> int:
        return int(self._words[_BOOT])

    def add_edges(self, ticks: NDArray[np.int64], levels: NDArray[np.uint8]) -> None:
        """Edges by their tick since set 0 of the window. Each before the set that follows it is fed."""
        first = int(self._words[_EDGES_WRITTEN])
        assert first + len(ticks) - int(self._words[_EDGES_READ]) <= _RING
        at = (first + np.arange(len(ticks))) % _RING
        self._edges["set"][at], self._edges["ticks"][at] = np.divmod(ticks, TICKS_PER_SAMPLE)
        self._edges["levels"][at] = levels
        self._words[_EDGES_WRITTEN] = first + len(ticks)

    def feed(self, codes: NDArray[np.int16], missed: NDArray[np.bool_] | None = None) -> None:
        """Sets (n, 8). `missed` names those that the converter says it missed."""
        assert self.waiting + len(codes) <= _RING
        at = (self.fed + np.arange(len(codes))) % _RING
        self._sets["codes"][at] = codes
        self._sets["flags"][at] = 0 if missed is None else missed
        self._words[_SETS_WRITTEN] = self.fed + len(codes)

    def count(self, pulses: int) -> None:
        """Pulses of the counter input since power-on."""
        self._words[_PULSES] = pulses

    def warm(self, code: int) -> None:
        """The slow channel's code."""
        self._words[_WINDING] = code & 0xFFFFFFFF
