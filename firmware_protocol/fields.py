"""Tagged fields: tag, length, value. A field can be added in any minor version; unknown ones are skipped and kept."""

from collections.abc import Sequence
from typing import TypeAlias

from firmware_protocol.errors import DamageKind, EncodeError, FrameError

Fields: TypeAlias = list[tuple[int, bytes]]

_VALUE_MAX = 255


def pack_fields(fields: Sequence[tuple[int, bytes]]) -> bytes:
    """Write fields in the order given; an empty value means "not known" and is left out.

    Raises EncodeError if a value is longer than 255 bytes.
    """
    for tag, value in fields:
        if len(value) > _VALUE_MAX:
            raise EncodeError(f"field {tag} has {len(value)} bytes, at most {_VALUE_MAX}")
    return b"".join(bytes((tag, len(value))) + value for tag, value in fields if value)


def unpack_fields(raw: bytes, tags: set[int]) -> tuple[dict[int, bytes], tuple[tuple[int, bytes], ...]]:
    """Known fields by tag (a tag that comes again continues its value), and the unknown ones as they stood.

    Raises FrameError (malformed) if a field reaches beyond the end.
    """
    known: dict[int, bytes] = {}
    unknown: list[tuple[int, bytes]] = []
    at = 0
    while at < len(raw):
        if at + 2 > len(raw) or at + 2 + raw[at + 1] > len(raw):
            raise FrameError(DamageKind.MALFORMED, f"field at byte {at} reaches beyond the frame")
        tag, value = raw[at], raw[at + 2 : at + 2 + raw[at + 1]]
        if tag in tags:
            known[tag] = known.get(tag, b"") + value
        else:
            unknown.append((tag, value))
        at += 2 + len(value)
    return known, tuple(unknown)


def text_of(known: dict[int, bytes], tag: int) -> str:
    """A text field, UTF-8; bytes that are none are shown as the replacement character, never raised."""
    return known.get(tag, b"").decode("utf-8", "replace")
