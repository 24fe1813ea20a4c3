"""simulator/restart.py: what a board sends after it started anew. Whole streams of it are in test_faults.py."""

from firmware_protocol import (
    ClockReply,
    Count,
    Counters,
    Edges,
    Identity,
    Message,
    Samples,
    Single,
    Singles,
    Status,
    decode_frame,
    encode_frame,
)
from simulator.restart import Restarts

BOARD = Identity(1, 0, 0x1FF, 1_000_000, 0, 0, "HB-0001")
BLOCK = Samples(0, 1, 32, 1600, b"\x80\x80")


def sent(message: Message, sequence: int = 50) -> bytes:
    return encode_frame(message, sequence=sequence, boot=0x1FF)


def after_a_start(*before: Message) -> Restarts:
    """A board that sent these, and then started anew."""
    restarts = Restarts()
    for message in (BOARD, *before):
        assert restarts.rewritten(sent(message)) == sent(message)
    restarts.restart()
    return restarts


def seen(restarts: Restarts, message: Message) -> Message | None:
    frame = restarts.rewritten(sent(message))
    return decode_frame(frame[:-1]).message() if frame else None


def test_the_description_comes_first_with_the_next_boot_number_behind_a_delimiter() -> None:
    restarts = Restarts()
    restarts.rewritten(sent(BOARD))
    empty, frame, end = restarts.restart().split(b"\0")
    assert (empty, end) == (b"", b"")
    opened = decode_frame(frame)
    identity = opened.message()
    assert isinstance(identity, Identity)
    assert (identity.boot, opened.boot, opened.sequence) == (0x200, 0x00, 0)


def test_ticks_and_numbers_begin_again() -> None:
    restarts = after_a_start(Status(5000, True, 1))
    assert seen(restarts, Samples(0, 1, 640, 6000, b"\x80\x80")) == Samples(0, 1, 0, 1000, b"\x80\x80")
    assert seen(restarts, Samples(0, 1, 672, 7600, b"\x80\x80")) == Samples(0, 1, 32, 2600, b"\x80\x80")
    assert seen(restarts, Edges(70, (5001, 5002), b"\1\0")) == Edges(0, (1, 2), b"\1\0")
    assert seen(restarts, Singles((Single(3, 9, 5500, -4),))) == Singles((Single(3, 0, 500, -4),))
    assert seen(restarts, ClockReply(1, 5010, 5020)) == ClockReply(1, 10, 20)


def test_what_was_measured_before_is_gone() -> None:
    restarts = after_a_start(Status(5000, True, 1))
    assert seen(restarts, BLOCK) is None
    assert seen(restarts, Edges(70, (4999, 5002), b"\1\0")) is None
    assert seen(restarts, Singles((Single(3, 9, 4000, -4), Single(3, 10, 5500, -4)))) is None


def test_sums_begin_at_zero() -> None:
    restarts = after_a_start(Status(5000, True, 1, 3, 2, 1), Counters((Count(4, 100, 4900),)))
    assert seen(restarts, Status(6000, True, 1, 4, 2, 1)) == Status(1000, True, 1, 1, 0, 0)
    assert seen(restarts, Counters((Count(4, 100, 4900),))) == Counters((Count(4, 0, 0),))
    assert seen(restarts, Counters((Count(4, 117, 5900),))) == Counters((Count(4, 17, 900),))


def test_frames_that_are_not_whole_are_passed_on() -> None:
    assert after_a_start().rewritten(b"\x05not a frame\0") == b"\x05not a frame\0"
