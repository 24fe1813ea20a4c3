"""Messages as plain values, as they stand in SPEC.md's examples and in the golden frames: readable in any language.

Listed values by name, fractions as two numbers, bytes as hex, sample words as sets of codes; the unknown is left out.
"""

from dataclasses import MISSING, fields, is_dataclass
from enum import IntEnum
from fractions import Fraction
from typing import Any

from firmware_protocol import (
    MESSAGES,
    WORD_CODING,
    ChannelDescription,
    Count,
    InputDescription,
    InputKind,
    Message,
    Role,
    SampleKind,
    Samples,
    Single,
)

_BY_NAME = {message.__name__: message for message in MESSAGES}
_LISTS: dict[tuple[type, str], type[IntEnum]] = {
    (ChannelDescription, "role"): Role,
    (ChannelDescription, "kind"): SampleKind,
    (InputDescription, "kind"): InputKind,
}
_ITEMS: dict[str, type] = {"singles": Single, "counts": Count}


def to_plain(message: Message) -> dict[str, Any]:
    plain: dict[str, Any] = {"message": type(message).__name__}
    for field in fields(message):
        value = getattr(message, field.name)
        if field.default is MISSING or value not in (None, "", ()):
            plain[field.name] = _plain(value)
    if isinstance(message, Samples):
        plain["codes"] = codes_of(bytes.fromhex(plain.pop("words")), message.channels)
    return plain


def from_plain(plain: dict[str, Any]) -> Message:
    kind = _BY_NAME[plain["message"]]
    values = {name: _value(kind, name, value) for name, value in plain.items() if name != "message"}
    if kind is Samples:
        values["words"] = words_of(values.pop("codes"))
    message: Message = kind(**values)
    return message


def codes_of(words: bytes, channels: int) -> list[list[int]]:
    """Sample words as they are on the wire -> sets of codes. Written without the codec, as a stranger would."""
    codes = []
    for at in range(0, len(words), 2):
        word = (words[at] | words[at + 1] << 8) ^ WORD_CODING
        codes.append(word - 0x10000 if word >= 0x8000 else word)
    return [codes[at : at + channels] for at in range(0, len(codes), channels)]


def words_of(sets: list[list[int]]) -> bytes:
    words = [(code & 0xFFFF) ^ WORD_CODING for codes in sets for code in codes]
    return b"".join(bytes((word & 0xFF, word >> 8)) for word in words)


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
