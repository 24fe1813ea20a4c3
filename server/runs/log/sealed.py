"""The checksum of rows of numbers: a flipped bit must not make another number of one. Pure."""

from struct import Struct, pack

from server.runs.crc import crc32

_CRC = Struct("<I")


def sealed(data: bytes, ids: str, *numbers: float) -> bytes:
    """The bytes with their CRC-32 behind them, which is also of the ids and of the other numbers of the row."""
    return data + _CRC.pack(_check(data, ids, numbers))


def unsealed(data: bytes, ids: str, *numbers: float) -> memoryview:
    """The bytes without it, not copied. Raises ValueError where it does not fit, TypeError for what are no bytes."""
    whole = memoryview(data)
    body, check = whole[: -_CRC.size], whole[-_CRC.size :]
    if check != _CRC.pack(_check(body, ids, numbers)):
        raise ValueError("the checksum of a row does not fit")
    return body


def _check(data: bytes | memoryview, ids: str, numbers: tuple[float, ...]) -> int:
    return crc32(data, crc32(ids.encode("utf-8", "replace"), crc32(pack(f"<{len(numbers)}d", *numbers))))
