"""What must hold of the decoder for any bytes at all: run by a coverage-guided fuzzer, and by a small test.

The first byte says how the rest is meant: as a stream, or as the contents of one frame whose checksum is right, which
is how a fuzzer gets past the checksum.
"""

from firmware_protocol import Damage, Decoder, Received, encode_frame
from firmware_protocol.cobs import encode
from firmware_protocol.crc import crc32
from firmware_protocol.frame import ENCODED_FRAME_MAX, HEADER, RAW_FRAME_MAX

CONTENTS = 128  # from this first byte on: contents of a frame


def one_input(data: bytes) -> None:
    """Raises AssertionError, or whatever the decoder raises, where something does not hold."""
    stream = stream_of(data)
    decoder, cut = Decoder(), (data[0] if data else 0) % (len(stream) + 1)
    whole = decoder.feed(stream)
    assert len(decoder._tail) <= ENCODED_FRAME_MAX + 1
    other = Decoder()
    assert other.feed(stream[:cut]) + other.feed(stream[cut:]) == whole
    for each in whole:
        if isinstance(each, Received):
            _comes_again(each)
        else:
            assert isinstance(each, Damage)


def stream_of(data: bytes) -> bytes:
    if not data or data[0] < CONTENTS or len(data) <= HEADER.size:
        return data[1:]
    raw = data[1 : RAW_FRAME_MAX - 3]
    return encode(raw + crc32(raw).to_bytes(4, "little")) + b"\0"


def _comes_again(received: Received) -> None:
    """What was read can be written, and is then read as the same."""
    wire = encode_frame(received.message, sequence=received.sequence, boot=received.boot)
    (again,) = Decoder().feed(wire)
    assert isinstance(again, Received)
    assert again.message == received.message
