"""Messages as plain values, as they stand in SPEC.md's examples and in the golden frames: readable in any language.

Listed values by name, fractions as two numbers, bytes as hex, sample words as sets of codes; the unknown is left out.
"""

from dataclasses import MISSING, fields, is_dataclass
from enum import IntEnum
from fractions import Fraction
from typing import Any

from firmware_protocol import (
    MESSAGES,
    ChannelDescription,
    Count,
    InputDescription,
    InputKind,
    Message,
    Role,
    SampleKind,
    Samples,
    Samples12,
    Samples24,
    Single,
    Word,
)

_BY_NAME = {message.__name__: message for message in MESSAGES}
_LISTS: dict[tuple[type, str], type[IntEnum]] = {
    (ChannelDescription, "role"): Role,
    (ChannelDescription, "kind"): SampleKind,
    (ChannelDescription, "word"): Word,
    (InputDescription, "kind"): InputKind,
}
_BITS: dict[type, int] = {Samples: 16, Samples12: 12, Samples24: 24}
_ITEMS: dict[str, type] = {"singles": Single, "counts": Count}


def to_plain(message: Message) -> dict[str, Any]:
    plain: dict[str, Any] = {"message": type(message).__name__}
    for field in fields(message):
        value = getattr(message, field.name)
        if field.default is MISSING or value not in (None, "", ()):
            plain[field.name] = _plain(value)
    if isinstance(message, Samples | Samples12 | Samples24):
        words = bytes.fromhex(plain.pop("words"))
        plain["codes"] = codes_of(words, message.channels, _BITS[type(message)])
    return plain


def from_plain(plain: dict[str, Any]) -> Message:
    kind = _BY_NAME[plain["message"]]
    values = {name: _value(kind, name, value) for name, value in plain.items() if name != "message"}
    if kind in _BITS:
        values["words"] = words_of(values.pop("codes"), _BITS[kind])
    message: Message = kind(**values)
    return message


def codes_of(words: bytes, channels: int, bits: int = 16) -> list[list[int]]:
    """Sample words as they are on the wire -> sets of codes. Written without the codec, as a stranger would.

    All three forms are one long number, lowest bits first, cut into words of so many bits.
    """
    number, codes = int.from_bytes(words, "little"), []
    for _ in range(8 * len(words) // bits):
        word = (number & ((1 << bits) - 1)) ^ _coding(bits)
        number >>= bits
        codes.append(word - (1 << bits) if word >> (bits - 1) else word)
    return [codes[at : at + channels] for at in range(0, len(codes), channels)]


def words_of(sets: list[list[int]], bits: int = 16) -> bytes:
    number, count = 0, 0
    for code in (code for codes in sets for code in codes):
        number |= ((code & ((1 << bits) - 1)) ^ _coding(bits)) << (bits * count)
        count += 1
    return number.to_bytes((bits * count + 7) // 8, "little")


def _coding(bits: int) -> int:
    return {12: 0x888, 16: 0x8080, 24: 0x808080}[bits]


def _plain(value: Any) -> Any:
    if isinstance(value, IntEnum):
        return value.name.lower()
    if isinstance(value, Fraction):
        return [value.numerator, value.denominator]
    if isinstance(value, bytes):
        return value.hex()
    if is_dataclass(value):
        return {field.name: _plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    return value


def _value(kind: type, name: str, value: Any) -> Any:
    if (kind, name) in _LISTS:
        return _LISTS[kind, name][value.upper()]
    if name == "ticks_per_sample":
        return Fraction(*value)
    if name in _ITEMS:
        return tuple(_ITEMS[name](**item) for item in value)
    if name == "states":
        return bytes.fromhex(value)
    if name == "unknown":
        return tuple((tag, bytes.fromhex(raw)) for tag, raw in value)
    return tuple(value) if isinstance(value, list) and name != "codes" else value
