"""firmware_protocol/control.py: the PC's four questions. The closed list itself is in test_messages.py."""

import pytest

from firmware_protocol import (
    TO_BOARD,
    ClockRequest,
    Describe,
    EncodeError,
    FrameError,
    Message,
    Start,
    Stop,
    encode_frame,
)

FRAME_TO_BOARD_MAX = 64


def test_describe_carries_the_version_of_the_pc() -> None:
    assert Describe().payload() == b"\x01\x00"


LARGEST = (Describe(255, 255), Start(), Stop(), ClockRequest((1 << 64) - 1))


@pytest.mark.parametrize("message", LARGEST)
def test_a_board_needs_64_bytes_for_what_it_receives(message: Message) -> None:
    assert len(encode_frame(message, sequence=65535)) <= FRAME_TO_BOARD_MAX


@pytest.mark.parametrize(("kind", "length"), [(Describe, 1), (ClockRequest, 7)])
def test_a_short_question_is_refused(kind: type[Message], length: int) -> None:
    with pytest.raises(FrameError, match=f"{length} bytes"):
        kind.parse(bytes(length))


@pytest.mark.parametrize("message", LARGEST)
def test_bytes_behind_a_question_are_those_of_a_later_version(message: Message) -> None:
    assert type(message).parse(message.payload() + b"more") == message


def test_every_question_is_among_the_largest() -> None:
    assert tuple(map(type, LARGEST)) == TO_BOARD


def test_a_token_that_does_not_fit_is_our_own_misuse() -> None:
    with pytest.raises(EncodeError):
        encode_frame(ClockRequest(-1), sequence=0)
