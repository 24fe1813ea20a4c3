"""firmware_protocol/frame.py: header, checksum, largest frame; against framing written a second time."""

from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware_protocol import (
    ENCODED_FRAME_MAX,
    PAYLOAD_MAX,
    DamageKind,
    EncodeError,
    FrameError,
    Message,
    Samples,
    Start,
    Status,
    cobs,
    decode_frame,
    encode_frame,
)
from tests.firmware_protocol.independent import framed
from tests.firmware_protocol.strategies import examples, messages


def test_limits_are_those_of_the_specification() -> None:
    assert (PAYLOAD_MAX, ENCODED_FRAME_MAX) == (1016, 1029)


@given(messages, st.integers(0, 65535), st.integers(0, 255))
@examples(80)
def test_framing_written_a_second_time_gives_the_same_bytes(message: Message, sequence: int, boot: int) -> None:
    assert encode_frame(message, sequence=sequence, boot=boot) == framed(
        message.TYPE, boot, sequence, message.payload()
    )


def test_the_largest_frame_fits_and_one_set_more_does_not() -> None:
    wire = encode_frame(Samples(0, 1, 0, 0, b"\x81\x7f" * 501), sequence=1)
    assert decode_frame(wire[:-1]).message() == Samples(0, 1, 0, 0, b"\x81\x7f" * 501)
    with pytest.raises(EncodeError, match="at most 1016"):
        encode_frame(Samples(0, 1, 0, 0, b"\x81\x7f" * 502), sequence=1)


def test_more_bytes_than_a_frame_has_cannot_hide_in_a_short_coding() -> None:
    full = framed(0x10, 1, 1, b"\x00\x01" + bytes(12) + b"\x00\x80" * 501)
    beyond = framed(0x10, 1, 1, b"\x00\x01" + bytes(12) + b"\x00\x80" * 502)
    assert len(beyond) - 1 <= ENCODED_FRAME_MAX
    assert decode_frame(full[:-1]).message() is not None
    with pytest.raises(FrameError) as refused:
        decode_frame(beyond[:-1])
    assert refused.value.kind is DamageKind.TOO_LONG


def test_boot_and_sequence_are_taken_modulo_what_their_places_hold() -> None:
    assert encode_frame(Start(), sequence=65536 + 5, boot=256 + 7) == encode_frame(Start(), sequence=5, boot=7)


def test_every_single_flipped_bit_is_found() -> None:
    coded = encode_frame(Status(123_456, True, 5, 1, 2, 3, 40.5, 4.9), sequence=77, boot=3)[:-1]
    for bit in range(8 * len(coded)):
        spoilt = bytearray(coded)
        spoilt[bit // 8] ^= 1 << bit % 8
        with pytest.raises(FrameError):
            decode_frame(bytes(spoilt))


def test_the_checksum_is_judged_before_anything_inside_is_read() -> None:
    raw = bytearray(cobs.decode(framed(0x02, 0, 0, b"\xff\x01\x00")[:-1]))
    raw[-1] ^= 1
    with pytest.raises(FrameError) as refused:
        decode_frame(cobs.encode(bytes(raw)))
    assert refused.value.kind is DamageKind.CHECKSUM


@pytest.mark.parametrize("length", range(8))
def test_fewer_bytes_than_header_and_checksum_are_short(length: int) -> None:
    with pytest.raises(FrameError) as refused:
        decode_frame(cobs.encode(Random(length).randbytes(length)))
    assert refused.value.kind is DamageKind.SHORT


def test_a_type_of_a_later_version_is_no_message_and_no_error() -> None:
    assert decode_frame(framed(0x7E, 0, 0, b"whatever")[:-1]).message() is None
