"""Tagged fields: tag, length, value; and the few plain values that payloads are made of.

A field can be added in any minor version; unknown ones are skipped and kept. Readers raise FrameError
(malformed) with the field's number, writers EncodeError; nothing here knows a message.
"""

from collections.abc import Callable, Iterable, Sequence
from enum import IntEnum
from fractions import Fraction
from math import isfinite
from struct import Struct
from typing import Any, TypeAlias, TypeVar

from firmware_protocol.errors import EncodeError, malformed

Fields: TypeAlias = list[tuple[int, bytes]]

TICK_BITS = 48
TICK_MAX = (1 << TICK_BITS) - 1
U32_MAX = 0xFFFF_FFFF

_VALUE_MAX = 255
_F32 = Struct("<f")
_DELAY = Struct("<iI")
_RATIO = Struct("<II")
_E = TypeVar("_E", bound=IntEnum)


def pack_fields(fields: Sequence[tuple[int, bytes]]) -> bytes:
    """Write fields in the order given; an empty value means "not known" and is left out.

    A value longer than 255 bytes is continued in further fields of the same tag.
    """
    pieces = ((tag, value[at : at + _VALUE_MAX]) for tag, value in fields for at in range(0, len(value), _VALUE_MAX))
    return b"".join(bytes((tag, len(piece))) + piece for tag, piece in pieces)


def unpack_fields(raw: bytes, tags: Iterable[int]) -> tuple[dict[int, bytes], tuple[tuple[int, bytes], ...]]:
    """Known fields by tag (a tag that comes again continues its value), and the unknown ones as they stood.

    A field of length 0 says no more than one that is left out, so it is in neither.
    Raises FrameError (malformed) if a field reaches beyond the end.
    """
    known: dict[int, bytes] = {}
    unknown: list[tuple[int, bytes]] = []
    at = 0
    while at < len(raw):
        if at + 2 > len(raw) or at + 2 + raw[at + 1] > len(raw):
            raise malformed(f"field at byte {at} reaches beyond the frame")
        tag, value = raw[at], raw[at + 2 : at + 2 + raw[at + 1]]
        at += 2 + len(value)
        if value and tag in tags:
            known[tag] = known.get(tag, b"") + value
        elif value:
            unknown.append((tag, value))
    return known, tuple(unknown)


def need(payload: bytes, length: int, what: str) -> None:
    """Refuse a payload that is shorter than its fixed part."""
    if len(payload) < length:
        raise malformed(f"{what}: {len(payload)} bytes, needs {length}")


def tick_of(raw: bytes, at: int = 0) -> int:
    """A tick or sample counter: 6 bytes, little endian."""
    return int.from_bytes(raw[at : at + 6], "little")


def tick_bytes(tick: int) -> bytes:
    if not 0 <= tick <= TICK_MAX:
        raise EncodeError(f"tick {tick} does not fit {TICK_BITS} bits")
    return tick.to_bytes(6, "little")


def text_of(known: dict[int, bytes], tag: int) -> str:
    """A text field, UTF-8; bytes that are none are shown as the replacement character, never raised."""
    return known.get(tag, b"").decode("utf-8", "replace")


def values_of(known: dict[int, bytes], tag: int, layout: Struct) -> tuple[Any, ...] | None:
    """A field of just the length of its layout, None where it is left out."""
    raw = known.get(tag)
    if raw is None:
        return None
    if len(raw) != layout.size:
        raise malformed(f"field {tag}: {len(raw)} bytes, needs {layout.size}")
    return layout.unpack(raw)


def byte_of(known: dict[int, bytes], tag: int) -> int | None:
    """A field of one byte, None where it is left out."""
    raw = known.get(tag)
    if raw is None:
        return None
    if len(raw) != 1:
        raise malformed(f"field {tag}: {len(raw)} bytes, needs 1")
    return raw[0]


def flag_of(known: dict[int, bytes], tag: int) -> bool:
    """A field of 0 or 1; left out it is 0."""
    value = byte_of(known, tag) or 0
    if value > 1:
        raise malformed(f"field {tag}: {value} is neither 0 nor 1")
    return value == 1


def float32_of(known: dict[int, bytes], tag: int) -> float | None:
    """A float32 field, None where it is left out; NaN and infinity are refused, since what is not known is left out."""
    values = values_of(known, tag, _F32)
    if values is None:
        return None
    if not isfinite(values[0]):
        raise malformed(f"field {tag}: {values[0]} is no finite number")
    return float(values[0])


def float32_bytes(value: float | None) -> bytes:
    """Raises EncodeError for what `float32_of` would refuse."""
    if value is None:
        return b""
    if not isfinite(value):
        raise EncodeError(f"{value} is no finite number: leave out what is not known")
    return _F32.pack(value)


def delay_of(known: dict[int, bytes], tag: int) -> tuple[int, int | None]:
    """Fixed delay and its limit in nanoseconds; (0, None) where the field is left out."""
    values = values_of(known, tag, _DELAY)
    if values is None:
        return 0, None
    return int(values[0]), None if values[1] == U32_MAX else int(values[1])


def delay_bytes(delay_ns: int, limit_ns: int | None) -> bytes:
    if not delay_ns and limit_ns is None:
        return b""
    return _DELAY.pack(delay_ns, U32_MAX if limit_ns is None else limit_ns)


def required(known: dict[int, bytes], tag: int, layout: Struct, what: str) -> tuple[Any, ...]:
    """`values_of`, refused where the field is left out."""
    values = values_of(known, tag, layout)
    if values is None:
        raise malformed(f"{what} is missing")
    return values


def ratio_of(known: dict[int, bytes], tag: int, what: str) -> Fraction | None:
    """An exact fraction of two u32, None where the field is left out."""
    values = values_of(known, tag, _RATIO)
    if values is None:
        return None
    if 0 in values:
        raise malformed(f"{what} is {values[0]}/{values[1]}")
    return Fraction(*values)


def ratio_bytes(ratio: Fraction) -> bytes:
    return _RATIO.pack(ratio.numerator, ratio.denominator)


def enum_of(kind: type[_E], value: int, what: str) -> _E:
    """A listed value. The lists are closed within a major version, so another value is refused."""
    try:
        return kind(value)
    except ValueError:
        raise malformed(f"{what} {value} is not a known value") from None


def negative(what: str, limits: dict[str, float | None]) -> str:
    """The first of the limits that is below zero, in words; empty if none is."""
    wrong = [f"{what}: {name} {value} is negative" for name, value in limits.items() if value is not None and value < 0]
    return wrong[0] if wrong else ""


def refuse(problem: str, error: Callable[[str], ValueError]) -> None:
    """Raise `error` with the problem, if there is one: EncodeError for what we write, malformed for what we read."""
    if problem:
        raise error(problem)
