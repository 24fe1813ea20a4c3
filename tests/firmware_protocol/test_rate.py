"""firmware_protocol/rate.py against frames written for the purpose, and against hand arithmetic."""

from dataclasses import replace
from fractions import Fraction

import pytest

from firmware_protocol import (
    TICK_MAX,
    ChannelDescription,
    Identity,
    InputDescription,
    InputKind,
    Message,
    Role,
    Samples,
    Single,
    Singles,
    Status,
    bits_per_s_needed,
    encode_frame,
    wire_bytes_per_s,
)


def board(channels: int, inputs: int = 0) -> Identity:
    return Identity(1, 0, 1, 1_000_000, channels, inputs, "HB-0001")


def even(count: int, ticks: Fraction, group: int = 0) -> list[ChannelDescription]:
    one = ChannelDescription(0, Role.CURRENT, "I", "line", "A", 1e-3, 0, -9, 9, group=group, ticks_per_sample=ticks)
    return [replace(one, index=index) for index in range(count)]


def test_eight_channels_at_20_khz_by_hand() -> None:
    # 625 blocks a second, each 4 + 14 + 512 + 4 bytes, 3 of coding and a delimiter: 538 bytes, 336 250 bytes a second;
    # four status frames of 42 bytes, and an eightieth of a description a second come to little.
    bytes_per_s = wire_bytes_per_s(board(8), even(8, Fraction(50)))
    assert 336_250 < bytes_per_s < 336_600
    assert bits_per_s_needed(bytes_per_s) == pytest.approx(10 * bytes_per_s)
    assert bits_per_s_needed(bytes_per_s) > 3_000_000  # so 3 Mbaud do not carry it


@pytest.mark.parametrize(
    ("channels", "ticks"), [(1, Fraction(20)), (2, Fraction(3125, 64)), (6, Fraction(100)), (40, Fraction(500))]
)
def test_a_written_stream_is_a_little_shorter_than_the_estimate(channels: int, ticks: Fraction) -> None:
    sets, seconds, described = min(32, 501 // channels), 10, even(channels, ticks)
    words = b"\x82\x80" * channels * sets
    messages: list[Message] = [board(channels), *described]
    messages += [Status(250_000 * number, True, 0, 0, 0, 0, 40.0, 5.0) for number in range(4 * seconds)]
    for number in range(int(seconds * 1_000_000 / ticks / sets)):
        messages.append(Samples(0, channels, number * sets, int(number * sets * ticks), words))
    length = sum(len(encode_frame(message, sequence=number)) for number, message in enumerate(messages))
    estimate = seconds * wire_bytes_per_s(board(channels), described)
    assert 0.98 * estimate <= length <= estimate


def test_slow_channels_inputs_and_edges_count_too() -> None:
    slow = ChannelDescription(0, Role.TEMPERATURE, "T", "winding", "degC", 0.01, 0, -9, 9, interval_ticks_max=100_000)
    shaft = InputDescription(0, InputKind.PULSE, "shaft", 0, 1)
    single = len(encode_frame(Singles((Single(0, 1, 0x0101_0101_0101, 257),)), sequence=257, boot=1))
    bare = wire_bytes_per_s(board(0), [])
    assert wire_bytes_per_s(board(1), [slow]) - bare == pytest.approx(10 * single, abs=20)
    assert wire_bytes_per_s(board(0, 1), [], [shaft], edges_per_s=1000) - bare == pytest.approx(21_000, abs=10)


def test_two_groups_have_their_own_blocks() -> None:
    both = even(2, Fraction(50)) + even(2, Fraction(5000), group=1)
    alone = [wire_bytes_per_s(board(2), even(2, Fraction(50))), wire_bytes_per_s(board(2), even(2, Fraction(5000)))]
    nothing = wire_bytes_per_s(board(0), [])
    assert wire_bytes_per_s(board(4), both) == pytest.approx(sum(alone) - nothing, rel=0.001)


def test_a_slow_group_sends_a_block_at_least_every_50_ms() -> None:
    one = wire_bytes_per_s(board(1), even(1, Fraction(50_000)))  # 20 sets a second, each by itself
    nothing = wire_bytes_per_s(board(0), [])
    block = encode_frame(Samples(1, 1, TICK_MAX, TICK_MAX, b"\x80\x80"), sequence=257, boot=1)
    assert one - nothing == pytest.approx(20 * len(block), abs=20)
