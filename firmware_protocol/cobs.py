"""Consistent Overhead Byte Stuffing: bytes without zeros, so that zero can end a frame.

S. Cheshire, M. Baker, "Consistent Overhead Byte Stuffing", IEEE/ACM Transactions on Networking 7(2), 1999.
The delimiter is not part of what these functions take or return.
"""

from firmware_protocol.errors import DamageKind, FrameError

_BLOCK_MAX = 254
_FULL = _BLOCK_MAX + 1  # code of a block with no zero behind it


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
    if 0 in coded:
        raise FrameError(DamageKind.STUFFING, "a zero stands inside")
    # In place: a code byte becomes the zero that it stands for, only those that stand for none are taken out.
    # Half the time of slicing the blocks and joining them.
    data, length = bytearray(coded), len(coded)
    at, code, without_zero = 0, _FULL, []
    while at < length:
        block, code = code, data[at]
        if block == _FULL:
            without_zero.append(at)
        else:
            data[at] = 0
        at += code
    if at > length:
        raise FrameError(DamageKind.STUFFING, "the last block reaches beyond the frame")
    for at in reversed(without_zero):
        del data[at]
    return bytes(data)
