"""Bytes of the wire <-> columns: frames are taken apart by their fields, sample words go to FLAC, the rest stays.

What a field means does not matter here, only where it stands: the layouts that were used are written beside the
columns, so that what is packed is read for ever, whatever the wire's next version brings.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from firmware_protocol import Counters, Edges, Samples, Samples12, Samples24, Singles, Word
from firmware_protocol.blocks import whole_sets
from firmware_protocol.crc import RESIDUE, crc32
from firmware_protocol.frame import RAW_FRAME_MIN
from server.runs.packing.columns import Column, Reader, Writer
from server.runs.packing.stuffing import stuffed, unstuffed
from server.runs.packing.words import CHANNELS_MAX, flacs_of, words_of

_HEAD, _CRC = 4, 4  # bytes of a frame before and behind its payload
_WORDS = {Samples.TYPE: Word.INT16, Samples12.TYPE: Word.PACKED12, Samples24.TYPE: Word.INT24}
_BLOCK_FIELDS = (1, 1, 6, 6)  # group, channels, first sample, tick
_FIELDS = {  # widths of the fields in front, and of those of each item behind them (SPEC.md)
    Edges.TYPE: ((4,), (6, 1)),
    Singles.TYPE: ((), (1, 4, 6, 4)),
    Counters.TYPE: ((), (1, 4, 6)),
}
_HEAD_FIELDS = [("type", "u1"), ("boot", "u1"), ("sequence", "<u2")]
_PLAIN, _ITEMS, _CODES = 0, 1, 2  # what stands behind the fields in front


@dataclass(frozen=True, slots=True)
class Layout:
    """Of a class of frames: widths of the fields in front, then plain bytes, items of such fields, or codes."""

    type: int
    front: tuple[int, ...] = ()
    items: tuple[int, ...] = ()
    word: Word | None = None
    group: int = 0
    channels: int = 0

    @property
    def front_bytes(self) -> int:
        return _HEAD + sum(self.front)

    def to_bytes(self) -> bytes:
        what = _CODES if self.word is not None else _ITEMS if self.items else _PLAIN
        more = (self.word, self.group, self.channels) if self.word is not None else self.items
        return bytes((self.type, what, len(self.front), *self.front, len(more), *more))

    @classmethod
    def of_bytes(cls, said: bytes) -> "Layout":
        kind, what, count = said[:3]
        front, more = tuple(said[3 : 3 + count]), tuple(said[4 + count : 4 + count + said[3 + count]])
        if what == _CODES:
            word, group, channels = more
            return cls(kind, front, (), Word(word), group, channels)
        if what not in (_PLAIN, _ITEMS) or any(not 1 <= width <= 6 for width in front + more):
            raise ValueError("a layout that this version does not know")
        return cls(kind, front, more)


def layout_of(frame: bytes) -> Layout:
    """How a frame is taken apart, its checksum included."""
    kind, payload = frame[0], len(frame) - _HEAD - _CRC
    if (word := _WORDS.get(kind)) is not None:
        length = payload - sum(_BLOCK_FIELDS)
        if length > 0 and whole_sets(word, frame[5], length) and not _half_too_many(word, frame, length):
            return Layout(kind, _BLOCK_FIELDS, (), word, frame[4], frame[5])
    elif kind in _FIELDS:
        front, items = _FIELDS[kind]
        if payload >= sum(front) and (payload - sum(front)) % sum(items) == 0:
            return Layout(kind, front, items)
    return Layout(kind)


def _half_too_many(word: Word, frame: bytes, length: int) -> bool:
    return word is Word.PACKED12 and length % 3 != 0 and frame[-_CRC - 1] > 0x0F


class _Sorting:
    """Frames by their layout; what is costly to find is found once for all frames of a kind and length."""

    def __init__(self) -> None:
        self.classes: dict[Layout, tuple[int, list[bytes]]] = {}  # its number, from 1, and its frames
        self._known: dict[tuple[int, ...], tuple[int, list[bytes]]] = {}

    def take(self, frame: bytes) -> int:
        """Put it to the others; the number of its class."""
        word = _WORDS.get(frame[0])
        ends_as_it_will = word is Word.PACKED12  # what stands in its last half byte decides
        key = (frame[0], len(frame)) if word is None else (frame[0], len(frame), frame[4], frame[5])
        its = None if ends_as_it_will else self._known.get(key)
        if its is None:
            its = self.classes.setdefault(layout_of(frame), (len(self.classes) + 1, []))
            self._known[key] = its
        its[1].append(frame)
        return its[0]


def pack_wire(stream: bytes, to: Writer) -> list[bytes]:
    """Write the columns of a stretch of wire bytes, cut anywhere; its FLAC streams."""
    delimiters = np.flatnonzero(np.frombuffer(stream, np.uint8) == 0)
    starts = np.concatenate((np.zeros(min(1, delimiters.size), np.intp), delimiters[:-1] + 1))
    sizes = delimiters - starts
    which, lengths = [0] * starts.size, sizes.tolist()  # of each piece its class, 0: raw bytes
    sorting, heads = _Sorting(), list[bytes]()
    for frame, piece in zip(*unstuffed(stream, starts, delimiters), strict=True):
        if len(frame) < RAW_FRAME_MIN or crc32(frame) != RESIDUE:
            continue
        which[piece], lengths[piece] = sorting.take(frame), len(frame)
        heads.append(frame[:_HEAD])
    raw = [stream[starts[piece] : delimiters[piece]] for piece, number in enumerate(which) if not number]
    tail = stream[delimiters[-1] + 1 :] if delimiters.size else stream
    to.column(which)
    to.column(lengths)
    to.plain(b"".join((*raw, tail)))
    head = np.frombuffer(b"".join(heads), _HEAD_FIELDS)
    to.column(head["boot"].astype(np.int64))
    to.column(head["sequence"].astype(np.int64))
    layouts = [layout.to_bytes() for layout in sorting.classes]
    to.column(list(map(len, layouts)))
    to.plain(b"".join(layouts))
    return [flac for layout, (_, frames) in sorting.classes.items() for flac in _pack_class(layout, frames, to)]


def _pack_class(layout: Layout, frames: list[bytes], to: Writer) -> list[bytes]:
    front = layout.front_bytes
    if layout.front:
        _write_fields(b"".join([frame[_HEAD:front] for frame in frames]), layout.front, to)
    bodies = [frame[front:-_CRC] for frame in frames]
    if layout.word is not None:
        return flacs_of(bodies, layout.word, layout.channels)
    if layout.items:
        _write_fields(b"".join(bodies), layout.items, to)
    else:
        to.plain(b"".join(bodies))
    return []


def unpack_wire(of: Reader, flacs: Iterator[bytes]) -> bytes:
    """The bytes again. Raises what a Reader raises."""
    which, sizes, raw, boots, sequences = of.column(), of.column(), of.plain(), of.column(), of.column()
    lengths, said = of.column().tolist(), of.plain()
    layouts = [Layout.of_bytes(said[sum(lengths[:k]) : sum(lengths[: k + 1])]) for k in range(len(lengths))]
    chosen = which[which > 0]
    frames: list[bytes] = [b""] * chosen.size
    head = np.zeros(chosen.size, _HEAD_FIELDS)
    head["type"] = np.array([0, *(layout.type for layout in layouts)], np.uint8)[chosen]
    head["boot"], head["sequence"] = boots, sequences
    heads = _cut(head.tobytes(), [_HEAD] * chosen.size)
    of_frames = sizes[which > 0]
    for number, layout in enumerate(layouts, 1):
        places = np.flatnonzero(chosen == number)
        for place, rest in zip(places.tolist(), _unpack_class(layout, of_frames[places], of, flacs), strict=True):
            frame = heads[place] + rest
            frames[place] = frame + crc32(frame).to_bytes(_CRC, "little")
    coded, at = iter(stuffed(frames)), 0
    pieces: list[bytes] = []
    for number, size in zip(which.tolist(), sizes.tolist(), strict=True):
        if number:
            pieces.append(next(coded))
        else:
            pieces.append(raw[at : at + size])
            at += size
    pieces.append(raw[at:])
    return b"\0".join(pieces)


def _unpack_class(layout: Layout, sizes: Column, of: Reader, flacs: Iterator[bytes]) -> list[bytes]:
    fronts = _cut(_read_fields(layout.front, of), [sum(layout.front)] * sizes.size) if layout.front else []
    lengths = (sizes - layout.front_bytes - _CRC).tolist()
    if layout.word is not None:
        streams = [next(flacs) for _ in range(-(-layout.channels // CHANNELS_MAX))]
        bodies = words_of(streams, lengths, layout.word, layout.channels)
    else:
        bodies = _cut(_read_fields(layout.items, of) if layout.items else of.plain(), lengths)
    return [a + b for a, b in zip(fronts, bodies, strict=True)] if layout.front else bodies


def _write_fields(data: bytes, widths: tuple[int, ...], to: Writer) -> None:
    """A column for each field of items that stand one behind the other."""
    items, at = np.frombuffer(data, np.uint8).reshape(-1, sum(widths)), 0
    for width in widths:
        wide = np.zeros((items.shape[0], 8), np.uint8)
        wide[:, :width] = items[:, at : at + width]
        to.column(wide.view("<i8").reshape(-1).astype(np.int64))
        at += width


def _read_fields(widths: tuple[int, ...], of: Reader) -> bytes:
    columns = [of.column().astype("<i8") for _ in widths]
    return np.hstack([c.view(np.uint8).reshape(-1, 8)[:, :w] for c, w in zip(columns, widths, strict=True)]).tobytes()


def _cut(data: bytes, sizes: list[int]) -> list[bytes]:
    pieces, at = [], 0
    for size in sizes:
        pieces.append(data[at : at + size])
        at += size
    return pieces
