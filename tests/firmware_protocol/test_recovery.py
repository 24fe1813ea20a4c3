"""Whatever a line brings: bounded memory, and from the second good frame behind it on all is read again."""

from collections.abc import Callable
from random import Random

import pytest

from firmware_protocol import Decoder, Received, Samples, Status, encode_frame
from firmware_protocol.frame import ENCODED_FRAME_MAX

GOOD = 6


def frames(first: int, count: int, boot: int = 1) -> list[bytes]:
    """Statuses and blocks in turn, as a board sends them."""
    made = []
    for number in range(first, first + count):
        block = Samples(0, 2, 16 * number, 1000 * number, bytes(range(64)))
        made.append(
            encode_frame(Status(1000 * number, True, 0) if number % 4 == 0 else block, sequence=number, boot=boot)
        )
    return made


def cut(draw: Random, line: bytearray) -> bytes:
    return bytes(line[draw.randrange(len(line)) :])


def flipped(draw: Random, line: bytearray) -> bytes:
    for _ in range(draw.randint(1, 30)):
        line[draw.randrange(len(line))] ^= 1 << draw.randrange(8)
    return bytes(line)


def inserted(draw: Random, line: bytearray) -> bytes:
    for _ in range(draw.randint(1, 8)):
        at = draw.randrange(len(line))
        line[at:at] = draw.randbytes(draw.randint(1, 40))
    return bytes(line)


def deleted(draw: Random, line: bytearray) -> bytes:
    for _ in range(draw.randint(1, 8)):
        at = draw.randrange(len(line))
        del line[at : at + draw.randint(1, 60)]
        if not line:
            break
    return bytes(line)


def doubled(draw: Random, line: bytearray) -> bytes:
    at = draw.randrange(len(line))
    piece = line[at : at + draw.randint(1, 300)]
    return bytes(line[:at] + piece + line[at:])


def reordered(draw: Random, line: bytearray) -> bytes:
    pieces = bytes(line).split(b"\0")
    draw.shuffle(pieces)
    return b"\0".join(pieces)


def merged(draw: Random, line: bytearray) -> bytes:
    """Two boards on one line, byte by byte."""
    other = b"".join(frames(100, 12, boot=9))
    return bytes(byte for pair in zip(line, other, strict=False) for byte in pair)


def at_the_wrong_rate(draw: Random, line: bytearray) -> bytes:
    """Bits of 8N1 read at twice the rate: each bit comes twice, start and stop bits land in the data."""
    bits = [bit for byte in line for bit in (0, *(byte >> k & 1 for k in range(8)), 1) for _ in range(2)]
    out = bytearray()
    for at in range(0, len(bits) - 10, 10):
        out.append(sum(bit << k for k, bit in enumerate(bits[at + 1 : at + 9])))
    return bytes(out)


def endless(draw: Random, line: bytearray) -> bytes:
    return bytes((draw.randint(1, 255),)) * draw.randint(1, 20_000)


def hostile_length(draw: Random, line: bytearray) -> bytes:
    """Code bytes that promise more than comes."""
    return bytes(draw.choice((0xFF, 0xFE, 0x02)) for _ in range(draw.randint(1, 3000)))


KINDS: tuple[Callable[[Random, bytearray], bytes], ...] = (
    *(cut, flipped, inserted, deleted, doubled, reordered, merged, at_the_wrong_rate, endless, hostile_length),
)


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.__name__)
def test_from_the_second_good_frame_on_all_is_read_again(kind: Callable[[Random, bytearray], bytes]) -> None:
    for seed in range(100):
        draw = Random(seed)
        decoder = Decoder()
        decoder.feed(kind(draw, bytearray(b"".join(frames(0, 12)))))
        assert len(decoder._tail) <= ENCODED_FRAME_MAX + 1
        good = frames(12, GOOD)
        found = [each for each in decoder.feed(b"".join(good)) if isinstance(each, Received)]
        assert [each.sequence for each in found][-(GOOD - 1) :] == list(range(13, 12 + GOOD)), seed
