"""Framing once more, byte by byte from the words of SPEC.md and without the codec: slow, and an oracle for it."""


def crc32(data: bytes) -> int:
    """CRC-32 bit by bit: polynomial 0x04C11DB7 reversed, start and final value all ones (IEEE 802.3)."""
    register = 0xFFFFFFFF
    for byte in data:
        register ^= byte
        for _ in range(8):
            register = register >> 1 ^ (0xEDB88320 if register & 1 else 0)
    return register ^ 0xFFFFFFFF


def stuff(data: bytes) -> bytes:
    """COBS as Cheshire and Baker describe it: think of a zero behind the data; a zero or 254 bytes end a block."""
    blocks, block = [], b""
    for byte in data + b"\0":
        if byte == 0:
            blocks.append(bytes([len(block) + 1]) + block)
            block = b""
        else:
            block += bytes([byte])
            if len(block) == 254:
                blocks.append(b"\xff" + block)
                block = b""
    # The zero thought behind a full last block would be a block of its own: the minimal form leaves it out.
    if len(blocks) > 1 and blocks[-1] == b"\x01" and blocks[-2][0] == 255:
        blocks.pop()
    return b"".join(blocks)


def unstuff(coded: bytes) -> bytes:
    data, at, zero_due = b"", 0, False
    while at < len(coded):
        if zero_due:
            data += b"\0"
        code = coded[at]
        data += coded[at + 1 : at + code]
        at += code
        zero_due = code < 255
    return data


def framed(kind: int, boot: int, sequence: int, payload: bytes) -> bytes:
    """A whole frame as on the wire."""
    raw = bytes([kind, boot, sequence & 0xFF, sequence >> 8]) + payload
    check = crc32(raw)
    return stuff(raw + bytes(check >> shift & 0xFF for shift in (0, 8, 16, 24))) + b"\0"
