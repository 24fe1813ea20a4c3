"""firmware_protocol/data.py: blocks, items, counters that go on, and what is refused."""

import pytest

from firmware_protocol import (
    TICK_MAX,
    WORD_CODING,
    ClockReply,
    Count,
    Counters,
    Edges,
    EncodeError,
    FrameError,
    Message,
    Samples,
    Samples12,
    Samples24,
    Single,
    Singles,
    Status,
    encode_frame,
)
from tests.firmware_protocol.plain import codes_of, words_of

HEAD = b"\x00\x02" + bytes(12)


def test_a_block_counts_its_sets() -> None:
    block = Samples.parse(HEAD + words_of([[1, 2], [3, 4], [5, 6]]))
    assert (block.count, block.channels, codes_of(block.words, 2)) == (3, 2, [[1, 2], [3, 4], [5, 6]])


def test_codes_near_zero_are_sent_without_a_zero_byte() -> None:
    assert WORD_CODING == 0x8080
    assert words_of([[0, -1, 1]]) == bytes.fromhex("8080 7f7f 8180")
    for code in range(-127, 128):
        assert 0 not in words_of([[code]])


def test_numbers_and_ticks_of_a_block_reach_48_bits() -> None:
    block = Samples(1, 1, TICK_MAX, TICK_MAX - 1, b"\x80\x80")
    assert block.payload()[2:14] == b"\xff" * 6 + b"\xfe" + b"\xff" * 5
    assert Samples.parse(block.payload()) == block


def test_counters_of_32_bits_go_on_modulo_2_to_the_32() -> None:
    beyond = (1 << 32) + 5
    assert Singles.parse(Singles((Single(0, beyond, 1, 1),)).payload()).singles[0].number == 5
    assert Edges.parse(Edges(beyond, (1,), b"\0").payload()).first_edge == 5
    assert Counters.parse(Counters((Count(0, beyond, 1),)).payload()).counts[0].count == 5
    assert Status.parse(Status(0, True, 0, beyond, beyond, beyond).payload()).dropped_blocks == 5


@pytest.mark.parametrize(
    ("kind", "payload", "named"),
    [
        (Samples, HEAD[:-1], "samples: 13 bytes"),
        (Samples, HEAD, "whole sets"),
        (Samples, HEAD + b"\x80\x80\x80", "whole sets"),
        (Samples, b"\x00\x00" + bytes(12) + b"\x80\x80", "whole sets"),
        (Samples12, HEAD[:-1], "samples: 13 bytes"),
        (Samples12, HEAD, "whole sets"),
        (Samples12, HEAD + b"\x88\x88\x88\x88", "whole sets"),
        (Samples12, b"\x00\x01" + bytes(12) + b"\x88\x18", "half a byte"),
        (Samples24, HEAD + b"\x80\x80\x80\x80", "whole sets"),
        (Singles, b"", "singles"),
        (Singles, bytes(14), "singles"),
        (Edges, bytes(3), "edges"),
        (Edges, bytes(4), "edges"),
        (Edges, bytes(10), "edges"),
        (Edges, bytes(4) + b"\x02\0\0\0\0\0\x01" + b"\x01\0\0\0\0\0\x00", "do not go on"),
        (Edges, bytes(4) + b"\x02\0\0\0\0\0\x01" + b"\x02\0\0\0\0\0\x00", "do not go on"),
        (Counters, b"", "counters"),
        (Counters, bytes(12), "counters"),
        (Status, bytes(19), "status: 19 bytes"),
        (Status, bytes(20) + b"\x01\x02\0\0", "field 1"),
        (Status, bytes(20) + b"\x01\x04\0\0\xc0\x7f", "field 1"),
        (ClockReply, bytes(19), "clock reply: 19 bytes"),
        (ClockReply, bytes(8) + b"\x02\0\0\0\0\0" + b"\x01\0\0\0\0\0", "before it came"),
    ],
)
def test_what_no_board_can_mean_is_refused(kind: type[Message], payload: bytes, named: str) -> None:
    with pytest.raises(FrameError, match=named):
        kind.parse(payload)


@pytest.mark.parametrize(
    "message",
    [
        Samples(0, 2, 0, 0, b"\x80\x80"),
        Samples(0, 2, 0, 0, b""),
        Samples(0, 0, 0, 0, b"\x80\x80"),
        Samples(0, 1, -1, 0, b"\x80\x80"),
        Samples(0, 1, 0, TICK_MAX + 1, b"\x80\x80"),
        Samples(256, 1, 0, 0, b"\x80\x80"),
        Samples(0, 1, 0, 0, b"\x80\x80" * 502),
        Samples12(0, 1, 0, 0, b"\x88"),
        Samples12(0, 1, 0, 0, b"\x88\x88"),
        Samples12(0, 2, 0, 0, b"\x88\x88\x88\x88\x88"),
        Samples24(0, 1, 0, 0, b"\x80\x80\x80\x80"),
        Singles(()),
        Singles((Single(0, 0, 0, 1 << 31),)),
        Edges(0, (), b""),
        Edges(0, (1, 2), b"\x01"),
        Counters(()),
        Status(-1, True, 0),
        Status(0, True, 256),
        Status(0, True, 0, temperature_c=1e300),
        ClockReply(1 << 64, 0, 0),
    ],
)
def test_what_does_not_fit_is_our_own_misuse(message: Message) -> None:
    with pytest.raises(EncodeError):
        encode_frame(message, sequence=0)


def test_bytes_behind_a_fixed_message_are_those_of_a_later_version() -> None:
    assert ClockReply.parse(ClockReply(1, 2, 3).payload() + b"more") == ClockReply(1, 2, 3)
