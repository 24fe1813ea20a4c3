"""Consistent Overhead Byte Stuffing: bytes without zeros, so that zero can end a frame.

S. Cheshire, M. Baker, "Consistent Overhead Byte Stuffing", IEEE/ACM Transactions on Networking 7(2), 1999.
The delimiter is not part of what these functions take or return.
"""

from firmware_protocol.errors import DamageKind, FrameError

_BLOCK_MAX = 254


def encoded_length_max(length: int) -> int:
    """Longest coding of `length` bytes: one more byte for each started 254, at least one."""
    return length + max(1, -(-length // _BLOCK_MAX))


def encode(data: bytes) -> bytes:
    """Code `data` without zero bytes, in the minimal form. `encode(b"") == b"\\x01"`."""
    coded: list[bytes] = []
    pieces = data.split(b"\0")
    for number, piece in enumerate(pieces):
        start = 0
        while len(piece) - start >= _BLOCK_MAX:
            coded += (b"\xff", piece[start : start + _BLOCK_MAX])
            start += _BLOCK_MAX
        last = number == len(pieces) - 1
        # A full block at the very end needs no empty block after it (minimal form).
        if not (last and start and start == len(piece)):
            coded += (bytes((len(piece) - start + 1,)), piece[start:])
    return b"".join(coded)


def decode(coded: bytes) -> bytes:
    """Undo `encode`; a needless empty last block is accepted.

    Raises FrameError (stuffing) if a block reaches beyond the end or a zero stands inside.
    """
    pieces: list[bytes] = []
    at, length = 0, len(coded)
    while at < length:
        code = coded[at]
        end = at + code
        if code == 0 or end > length:
            raise FrameError(DamageKind.STUFFING, f"block at byte {at} reaches beyond the frame")
        pieces.append(coded[at + 1 : end])
        if code <= _BLOCK_MAX and end < length:
            pieces.append(b"\0")
        at = end
    return b"".join(pieces)
