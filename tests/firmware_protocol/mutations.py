"""Frames spoilt by chance, and the checks that must hold whatever came of them. Small in a test, 10^7 by `prove wire`.

Two kinds: noise on the line, which the checksum must find; and forged frames, spoilt inside and given a right
checksum again, as a board with a wrong program or bad intent sends them.
"""

import json
from collections import Counter
from random import Random

from firmware_protocol import Damage, DamageKind, Decoder, EncodeError, Message, Received, decode_frame, encode_frame
from firmware_protocol.cobs import decode, encode
from firmware_protocol.crc import crc32
from tests.firmware_protocol.golden import FILE

FORGED_SHARE = 0.5
_STREAM = 100  # frames fed to one decoder


def sources() -> list[bytes]:
    """What is spoilt: the golden frames, without their delimiter."""
    return [bytes.fromhex(golden["wire"])[:-1] for golden in json.loads(FILE.read_text())]


def spoil(draw: Random, data: bytes) -> bytes:
    """One to three of: a changed byte, lost bytes, bytes put in, a piece that comes twice, an end cut off."""
    spoilt = bytearray(data)
    for _ in range(draw.randint(1, 3)):
        at = draw.randrange(len(spoilt) + 1)
        match draw.randrange(5):
            case 0 if at < len(spoilt):
                spoilt[at] = draw.choice((0, 1, 0x7F, 0x80, 0xFF, draw.randrange(256)))
            case 1:
                del spoilt[at : at + draw.randint(1, 8)]
            case 2:
                spoilt[at:at] = draw.randbytes(draw.randint(1, 8))
            case 3:
                spoilt[at:at] = spoilt[at : at + draw.randint(1, 40)]
            case _:
                del spoilt[at:]
    return bytes(spoilt)


def forge(draw: Random, coded: bytes) -> bytes:
    """Spoil what is inside, now and then its header too, and put a right checksum over it."""
    raw = decode(coded)
    kept = 0 if draw.random() < 0.1 else 4
    inside = raw[:kept] + spoil(draw, raw[kept:-4])
    return encode(inside + crc32(inside).to_bytes(4, "little"))


def run(seed: str, count: int) -> Counter[str]:
    """Feed `count` mutated frames in streams cut anywhere; what was found, by kind.

    AssertionError: something passed that must not. Any other exception is a fault of the decoder.
    """
    draw, originals = Random(seed), sources()
    found: Counter[str] = Counter()
    for first in range(0, count, _STREAM):
        frames = [mutated(draw, originals) for _ in range(min(_STREAM, count - first))]
        stream = b"\0".join([b"", *frames, b""])
        decoder, at = Decoder(), 0
        try:
            while at < len(stream):
                size = draw.choice((1, 64, 4096))
                for one in decoder.feed(stream[at : at + size]):
                    found[judge(one, stream)] += 1
                at += size
            assert decoder.pending_bytes == 0
        except Exception as fault:
            fault.add_note(f"mutations of seed {seed!r}, stream of frames from {first} on")
            raise
    found["frames"] += count
    return found


def mutated(draw: Random, originals: list[bytes]) -> bytes:
    change = forge if draw.random() < FORGED_SHARE else spoil
    return change(draw, draw.choice(originals))


def judge(one: Received | Damage, stream: bytes) -> str:
    """A name for what was found, after checking that it may be found."""
    if isinstance(one, Damage):
        assert one.kind in DamageKind
        return one.kind.value
    coded = stream[one.offset : stream.index(0, one.offset)]
    frame = decode_frame(coded)
    assert frame.message() == one.message
    rewritten = written(one.message)
    if rewritten is not None:  # what was taken can be said again
        assert decode_frame(rewritten[:-1]).message() == one.message, one.message
    return "taken"


def written(message: Message) -> bytes | None:
    """The message as a frame; None if its text held bytes that are no UTF-8 and has become too long by showing them."""
    try:
        return encode_frame(message, sequence=0)
    except EncodeError:
        assert "\ufffd" in repr(message) or "\\ufffd" in repr(message), message
        return None
