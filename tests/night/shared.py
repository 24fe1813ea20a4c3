"""What the bench and the service under proof share: the clock that both live by, and how far the service has come."""

import mmap
import os
from pathlib import Path
from struct import Struct

_NUMBER = Struct("<d")  # one of these is written and read as a whole
_MONOTONIC, _WALL, _TAKEN, _LIVE = range(0, 4 * _NUMBER.size, _NUMBER.size)
SIZE = 4 * _NUMBER.size


class Shared:
    """Four numbers in a file that both have in memory; it is made where it is not there."""

    def __init__(self, path: Path) -> None:
        handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
        os.ftruncate(handle, SIZE)
        self._map = mmap.mmap(handle, SIZE)
        os.close(handle)

    def _number(self, at: int) -> float:
        return float(_NUMBER.unpack_from(self._map, at)[0])

    @property
    def monotonic_s(self) -> float:
        """The PC's clock that never steps."""
        return self._number(_MONOTONIC)

    @monotonic_s.setter
    def monotonic_s(self, now_s: float) -> None:
        _NUMBER.pack_into(self._map, _MONOTONIC, now_s)

    @property
    def wall_s(self) -> float:
        """How far the PC's clock of the day is ahead of the one that never steps."""
        return self._number(_WALL)

    @wall_s.setter
    def wall_s(self, ahead_s: float) -> None:
        _NUMBER.pack_into(self._map, _WALL, ahead_s)

    @property
    def taken(self) -> int:
        """Bytes of the board that the service has recorded and computed since it started."""
        return int(self._number(_TAKEN))

    @taken.setter
    def taken(self, count: int) -> None:
        _NUMBER.pack_into(self._map, _TAKEN, count)

    @property
    def live(self) -> bool:
        """Whether the service says that the board is there and understood."""
        return bool(self._number(_LIVE))

    @live.setter
    def live(self, it_is: bool) -> None:
        _NUMBER.pack_into(self._map, _LIVE, it_is)
