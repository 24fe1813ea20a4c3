"""firmware_protocol/messages.py: the list, and every message of it there and back."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware_protocol import (
    FROM_BOARD,
    MESSAGES,
    TO_BOARD,
    ClockRequest,
    Damage,
    DamageKind,
    Decoder,
    Describe,
    FrameError,
    Message,
    Received,
    Start,
    Stop,
    decode_frame,
    encode_frame,
)
from tests.firmware_protocol.strategies import BY_TYPE, examples, messages


def refused(kind: type[Message], payload: bytes) -> DamageKind | None:
    try:
        kind.parse(payload)
    except FrameError as error:
        return error.kind
    return None


EVERY = pytest.mark.parametrize("kind", MESSAGES, ids=lambda kind: kind.__name__)


def test_what_a_pc_can_ask_of_a_board_is_this_closed_list_and_drives_no_motor() -> None:
    assert (Describe, Start, Stop, ClockRequest) == TO_BOARD
    assert {message.TYPE for message in TO_BOARD} == {0x81, 0x82, 0x83, 0x84}
    assert {message.TYPE for message in MESSAGES if message.TYPE >= 0x80} == {0x81, 0x82, 0x83, 0x84}
    carried = {name for message in TO_BOARD for name in message.__slots__}
    assert carried == {"major", "minor", "token"}  # none of them a setting of anything


def test_types_are_unique_and_their_upper_bit_tells_the_direction() -> None:
    assert len({message.TYPE for message in MESSAGES}) == len(MESSAGES)
    assert all(0 < message.TYPE < 0x80 for message in FROM_BOARD)
    assert all(0x80 <= message.TYPE <= 0xFF for message in TO_BOARD)
    assert MESSAGES == FROM_BOARD + TO_BOARD


def test_every_message_has_its_strategy() -> None:
    assert set(BY_TYPE) == set(MESSAGES)


@EVERY
def test_every_message_comes_back_whole(kind: type[Message]) -> None:
    @given(BY_TYPE[kind], st.integers(0, 65535), st.integers(0, 255))
    @examples(60)
    def comes_back(message: Message, sequence: int, boot: int) -> None:
        wire = encode_frame(message, sequence=sequence, boot=boot)
        assert wire.count(b"\0") == 1
        assert wire.endswith(b"\0")
        frame = decode_frame(wire[:-1])
        assert (frame.type, frame.sequence, frame.boot) == (message.TYPE, sequence, boot)
        assert frame.message() == message

    comes_back()


@EVERY
def test_every_message_comes_back_byte_by_byte_and_with_rubbish_behind(kind: type[Message]) -> None:
    @given(BY_TYPE[kind], st.binary(min_size=1, max_size=20))
    @examples(10)
    def comes_back(message: Message, rubbish: bytes) -> None:
        wire = encode_frame(message, sequence=7, boot=3)
        decoder = Decoder()
        found = [thing for byte in wire for thing in decoder.feed(bytes([byte]))]
        assert found == [Received(message, 3, 7, 0)]
        behind = Decoder().feed(wire + rubbish + b"\0")
        assert behind[0] == found[0]
        assert all(isinstance(thing, Damage) for thing in behind[1:])

    comes_back()


@EVERY
def test_every_message_cut_at_any_byte_with_its_checksum_mended_is_read_or_refused(kind: type[Message]) -> None:
    """A board whose program is wrong sends good checksums over half a message."""

    @given(BY_TYPE[kind])
    @examples(10)
    def is_judged(message: Message) -> None:
        payload = message.payload()
        for length in range(len(payload)):
            assert refused(kind, payload[:length]) in (None, DamageKind.MALFORMED)

    is_judged()


@given(messages)
@examples(100)
def test_a_message_can_be_a_key_and_shows_itself(message: Message) -> None:
    assert len({message, type(message).parse(message.payload())}) == 1
    assert repr(message).startswith(type(message).__name__)
