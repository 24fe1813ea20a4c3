"""One block: a stretch of a plain segment, cut anywhere, packed by itself and taken out again byte for byte."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from mmap import mmap
from struct import Struct
from zlib import compress, decompressobj

import numpy as np

from server.runs.layout import MAGIC, RECORD_OVERHEAD, Entry, Kind, Numbered, Records, Unreadable, record
from server.runs.packing.columns import Reader, TooMuchError, Writer
from server.runs.packing.frames import pack_wire, unpack_wire

PLAIN_BYTES_MAX = 4 << 20  # of a block's plain bytes: what reading it holds in memory
_HEAD = Struct("<BI")  # how it is coded, length of the columns
_LENGTH = Struct("<I")  # of a FLAC stream behind the columns
_DEFLATED, _APART = 0, 1
_READ_AT_ONCE = 1 << 20
_RAW = 255  # a piece that is no record, where a kind stands
_FEW = 1000  # numbers that a block of a few bytes may have


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of plain bytes: a record, or (None) bytes that hold none."""

    start: int
    end: int
    numbered: Numbered | None


def pieces_of(length: int, records: Iterable[Numbered], base: int = 0) -> list[Piece]:
    """All of so many plain bytes in turn. `records`: what stands in them; `base`: where they begin in its places."""
    found, at = list[Piece](), 0
    for each in records:
        start = each.offset - base
        if start > at:
            found.append(Piece(at, start, None))
        at = start + RECORD_OVERHEAD + len(each.entry.payload)
        found.append(Piece(start, at, each))
    return [*found, Piece(at, length, None)] if at < length else found


def deflated(plain: bytes) -> bytes:
    """The packed bytes of a block that is not taken apart."""
    return _HEAD.pack(_DEFLATED, 0) + compress(plain)


def packed(plain: bytes, records: Iterable[Numbered] | None = None, base: int = 0) -> bytes:
    """The packed bytes of a block. `records`, `base`: as for `pieces_of`, where it was looked for records before.

    Raises ValueError beyond PLAIN_BYTES_MAX.
    """
    if len(plain) > PLAIN_BYTES_MAX:
        raise ValueError(f"a block of {len(plain)} bytes, at most {PLAIN_BYTES_MAX}")
    if records is None:
        records = [each for each in records_of(plain) if isinstance(each, Numbered)]
    to = Writer()
    kinds, lengths, numbers, times = list[int](), list[int](), list[int](), list[float]()
    stream, rest = list[bytes](), list[bytes]()
    for piece in pieces_of(len(plain), records, base):
        numbered = piece.numbered
        if numbered is None or record(numbered.number, numbered.entry) != plain[piece.start : piece.end]:
            kinds.append(_RAW)
            lengths.append(piece.end - piece.start)
            rest.append(plain[piece.start : piece.end])
            continue
        entry = numbered.entry
        kinds.append(entry.kind)
        lengths.append(len(entry.payload))
        numbers.append(numbered.number)
        times.append(entry.utc_s)
        (stream if entry.kind is Kind.CHUNK else rest).append(entry.payload)
    for column in (kinds, lengths):
        to.column(column)
    to.column(np.array(numbers, np.uint64).view(np.int64))
    to.column(np.array(times, np.float64).view(np.int64))
    to.plain(b"".join(rest))
    flacs = pack_wire(b"".join(stream), to)
    columns = to.packed()
    streams = [_LENGTH.pack(len(flac)) + flac for flac in flacs]
    return b"".join((_HEAD.pack(_APART, len(columns)), columns, *streams))


def records_of(data: bytes | mmap, magic: bytes = MAGIC) -> Iterator[Numbered | Unreadable]:
    """All that stands in the bytes of a segment."""
    records = Records(magic)
    for at in range(0, len(data), _READ_AT_ONCE):
        yield from records.feed(data[at : at + _READ_AT_ONCE])
    yield from records.end()


def unpacked(data: bytes, length: int) -> bytes:
    """The plain bytes again, of so many bytes. Raises ValueError for what `packed` never wrote."""
    try:
        plain = _unpacked(data, length)
    except Exception as error:  # whatever a block that was made so brings about deep inside
        raise ValueError(f"it is no block ({type(error).__name__}: {error})") from error
    if len(plain) != length:
        raise ValueError(f"{len(plain)} bytes where {length} are due")
    return plain


def _unpacked(data: bytes, length: int) -> bytes:
    if length > PLAIN_BYTES_MAX:
        raise TooMuchError(f"a block of {length} bytes")
    coding, size = _HEAD.unpack_from(data)
    if coding == _DEFLATED:
        return decompressobj().decompress(data[_HEAD.size :], length + 1)
    if coding != _APART:
        raise ValueError(f"coding {coding} is of a newer version")
    of = Reader(data[_HEAD.size : _HEAD.size + size], 2 * length + _FEW, 16 * length + _FEW)
    kinds, lengths = of.column().tolist(), of.column().tolist()
    numbers = iter(of.column().view(np.uint64).tolist())
    times, rest = iter(of.column().view(np.float64).tolist()), of.plain()
    stream = unpack_wire(of, _flacs(data, _HEAD.size + size))
    plain, in_stream, in_rest = list[bytes](), 0, 0
    for kind, length in zip(kinds, lengths, strict=True):
        if kind == Kind.CHUNK:
            payload = stream[in_stream : in_stream + length]
            in_stream += length
        else:
            payload = rest[in_rest : in_rest + length]
            in_rest += length
        plain.append(payload if kind == _RAW else record(next(numbers), Entry(Kind(kind), next(times), payload)))
    return b"".join(plain)


def _flacs(data: bytes, at: int) -> Iterator[bytes]:
    while at < len(data):
        (length,) = _LENGTH.unpack_from(data, at)
        at += _LENGTH.size + length
        yield data[at - length : at]
