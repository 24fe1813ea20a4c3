"""Whole numbers that go on evenly -> few bytes: differences, then their bytes plane by plane, for deflate to shorten.

Numbers are int64 and differences wrap, so that any bits come back as they were. One deflate for all columns of a block.
"""

from collections.abc import Sequence
from struct import Struct
from zlib import compress, decompressobj

import numpy as np
from numpy.typing import NDArray

DEFLATE_LEVEL = 6
_HEAD = Struct("<BBI")  # how often differences were taken, bytes of each, how many numbers
_LENGTH = Struct("<I")
_ORDERS = (0, 1, 2)

Column = NDArray[np.int64]


class TooMuchError(ValueError):
    """What is packed claims to be more than a block can be: it was made so, and is not read."""


class Writer:
    """Columns and plain bytes in turn; `packed` is all of them."""

    def __init__(self) -> None:
        self._parts: list[bytes] = []

    def column(self, numbers: Column | Sequence[int]) -> None:
        """Numbers of int64."""
        best, order = _least(np.asarray(numbers, np.int64))
        size = int(best.max()).bit_length() if best.size else 0
        width = -(-size // 8)
        planes = best.astype("<u8").view(np.uint8).reshape(-1, 8)[:, :width].T.tobytes()
        self._parts += (_HEAD.pack(order, width, best.size), planes)

    def plain(self, data: bytes) -> None:
        """Bytes as they are."""
        self._parts += (_LENGTH.pack(len(data)), data)

    def packed(self) -> bytes:
        return compress(b"".join(self._parts), DEFLATE_LEVEL)


class Reader:
    """What a Writer wrote, in the same order. `numbers_max` and `bytes_max`: of all of it, so that no few bytes become
    many. Raises ValueError, zlib.error, struct.error for what no Writer wrote."""

    def __init__(self, packed: bytes, numbers_max: int, bytes_max: int) -> None:
        unpacking = decompressobj()
        self._data = unpacking.decompress(packed, bytes_max)
        if unpacking.unconsumed_tail or not unpacking.eof:
            raise TooMuchError(f"more than {bytes_max} bytes, or cut off")
        self._at, self._left = 0, numbers_max

    def column(self) -> Column:
        order, width, count = _HEAD.unpack_from(self._data, self._at)
        self._left -= count
        if self._left < 0 or order not in _ORDERS or width > 8:
            raise TooMuchError("more numbers than the block has bytes")
        planes = self._take(_HEAD.size, width * count)
        whole = np.zeros((count, 8), np.uint8)
        whole[:, :width] = np.frombuffer(planes, np.uint8).reshape(width, count).T
        numbers = _unzigzag(whole.view("<u8").reshape(-1).astype(np.uint64))
        for _ in range(order):
            numbers = np.cumsum(numbers, dtype=np.int64)
        return numbers

    def plain(self) -> bytes:
        (length,) = _LENGTH.unpack_from(self._data, self._at)
        return self._take(_LENGTH.size, length)

    def _take(self, skip: int, length: int) -> bytes:
        start = self._at + skip
        self._at = start + length
        if self._at > len(self._data):
            raise TooMuchError("it ends before its columns do")
        return self._data[start : self._at]


def _least(numbers: Column) -> tuple[NDArray[np.uint64], int]:
    """The differences of that order whose numbers are smallest in the middle, folded, and the order."""
    found, best, order = numbers, _zigzag(numbers), 0
    for each in _ORDERS[1:]:
        found = np.diff(found, prepend=np.int64(0))
        folded = _zigzag(found)
        if _size(folded) < _size(best):
            best, order = folded, each
    return best, order


def _size(folded: NDArray[np.uint64]) -> float:
    """About the bits that the numbers take."""
    return float(np.log2(folded.astype(np.float64) + 1.0).sum())


def _zigzag(numbers: Column) -> NDArray[np.uint64]:
    """0, -1, 1, -2 ... -> 0, 1, 2, 3 ..."""
    return ((numbers << 1) ^ (numbers >> 63)).view(np.uint64)


def _unzigzag(folded: NDArray[np.uint64]) -> Column:
    return (folded >> np.uint64(1)).view(np.int64) ^ -(folded & np.uint64(1)).view(np.int64)
