"""The board's wire: what it says, when, in which order, and that its bytes depend on nothing but seed and time."""

from fractions import Fraction
from itertools import pairwise
from typing import TypeVar

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firmware_protocol import (
    PROTOCOL_MAJOR,
    ChannelDescription,
    ClockReply,
    ClockRequest,
    Counters,
    Describe,
    Edges,
    Identity,
    InputDescription,
    InputKind,
    Message,
    Samples,
    Singles,
    Start,
    Status,
    Stop,
    encode_frame,
)
from simulator.board import Board
from tests.simulator.fakes import TICK_HZ, Counting, channel, codes_of, messages

_M = TypeVar("_M", bound=Message)


def only(kind: type[_M], data: bytes) -> list[_M]:
    return [message for message in messages(data) if isinstance(message, kind)]


def request(message: Message) -> bytes:
    return encode_frame(message, sequence=0)


def test_at_power_on_it_sends_a_zero_byte_its_description_and_a_status() -> None:
    board = Board(Counting((channel(0), channel(1))), serial="HB-0007", boot=260)
    first = board.step(0.0)
    assert first[0] == 0
    kinds = [type(message) for message in messages(first)]
    assert kinds == [Identity, ChannelDescription, ChannelDescription, InputDescription, Status]
    identity = only(Identity, first)[0]
    assert (identity.serial, identity.boot, identity.channels, identity.inputs) == ("HB-0007", 260, 2, 1)


def test_the_description_comes_again_every_ten_seconds_and_a_status_every_200_ms() -> None:
    data = Board(Counting()).step(30.5)
    sent = messages(data)
    statuses = only(Status, data)
    assert [status.tick for status in statuses] == list(range(0, 30_500_001, 200_000))
    before = [sum(isinstance(m, Status) for m in sent[:k]) for k, m in enumerate(sent) if isinstance(m, Identity)]
    assert before == [0, 50, 100, 150]  # statuses before each description: 0, 10, 20 and 30 s


def test_blocks_hold_every_sample_in_its_place() -> None:
    data = Board(Counting((channel(0), channel(1)))).step(1.0)
    blocks = only(Samples, data)
    assert [block.first_sample for block in blocks] == list(range(0, 20_000, 100))
    assert all(block.tick == 50 * block.first_sample for block in blocks)
    codes = np.concatenate([codes_of(block) for block in blocks])
    k = np.arange(20_000)
    assert (codes == np.column_stack((k, k + 100))).all()


@pytest.mark.parametrize(
    ("channels", "ticks", "sets"),
    [
        (1, Fraction(50), 100),  # 5 ms
        (4, Fraction(50), 100),
        (7, Fraction(50), 71),  # 14 bytes and 71 sets of 14: 1008 of 1016 payload bytes
        (8, Fraction(50), 62),
        (1, Fraction(100, 3), 150),
        (2, Fraction(100_000, 441), 22),  # 4.41 kHz: 22 sets are 4.99 ms
        (1, Fraction(1000), 5),
        (1, Fraction(100_000), 1),  # slower than blocks: each set by itself
        (40, Fraction(10), 12),
    ],
)
def test_a_block_is_as_long_as_a_frame_and_five_milliseconds_allow(channels: int, ticks: Fraction, sets: int) -> None:
    source = Counting(tuple(channel(index, ticks=ticks) for index in range(channels)))
    blocks = only(Samples, Board(source).step(0.5))
    assert {block.count for block in blocks} == {sets}


def test_a_rate_that_is_no_whole_number_of_ticks_keeps_its_exact_times() -> None:
    blocks = only(Samples, Board(Counting((channel(ticks=Fraction(20_000, 441)),))).step(1.0))
    assert len(blocks) > 100
    for block in blocks:  # SPEC.md section 6: rounded to whole ticks, halves up
        assert block.tick == int(Fraction(20_000, 441) * block.first_sample + Fraction(1, 2))


def test_an_edge_goes_out_before_any_block_or_status_of_a_later_tick() -> None:
    ticks = np.unique(np.random.default_rng(4).integers(0, 3_000_000, 3000)).tolist()
    sent = messages(Board(Counting(edge_ticks=ticks)).step(3.0))
    told = -1
    seen: list[int] = []
    for message in sent:
        if isinstance(message, Edges):
            assert message.first_edge == len(seen)
            assert message.ticks[0] > told
            seen += message.ticks
        elif isinstance(message, Samples | Status):
            assert not [tick for tick in ticks[len(seen) :] if tick < message.tick]
            told = max(told, message.tick - 1)
    assert seen == ticks
    assert {len(message.ticks) for message in sent if isinstance(message, Edges)} > {1}


def test_the_status_tells_the_level_that_the_edges_lead_to() -> None:
    statuses = only(Status, Board(Counting(edge_ticks=[150_000, 390_000, 400_000, 700_001])).step(0.8))
    assert [status.levels for status in statuses] == [0, 1, 1, 1, 0]


def test_two_changes_within_one_tick_are_one_edge_and_no_change_is_none() -> None:
    edges = only(Edges, Board(Counting(edge_ticks=[1000, 2000, 2000, 3000])).step(0.1))
    assert [edge for frame in edges for edge in zip(frame.ticks, frame.states, strict=True)] == [(1000, 1), (3000, 0)]


def test_uneven_channels_come_as_single_samples_at_their_own_ticks() -> None:
    slow = ChannelDescription(0, channel().role, "slow", "", "", 0.5, 1.0, -32_767, 32_767, interval_ticks_max=100_000)
    source = Counting((slow,))
    singles = [single for frame in only(Singles, Board(source).step(0.95)) for single in frame.singles]
    assert [single.tick for single in singles] == list(range(0, 1_000_000, 100_000))
    assert [single.number for single in singles] == list(range(10))
    assert [0.5 * single.code + 1.0 for single in singles] == list(range(10))


@given(cuts=st.lists(st.integers(0, 400_000), max_size=8))
@settings(max_examples=30, deadline=None)
def test_bytes_do_not_depend_on_how_the_time_was_cut(cuts: list[int]) -> None:
    edge_ticks = list(range(777, 400_000, 1234))
    whole = Board(Counting(edge_ticks=edge_ticks)).step(0.4)
    board = Board(Counting(edge_ticks=edge_ticks))
    at = [0, *sorted(cuts), 400_000]
    assert b"".join(board.step((b - a) / TICK_HZ) for a, b in pairwise(at)) == whole


def test_the_source_is_asked_for_the_same_stretches_whatever_the_steps() -> None:
    one, many = Counting(), Counting()
    Board(one).step(0.3)
    board = Board(many)
    for _ in range(300):
        board.step(0.001)
    assert one.asked == many.asked
    assert all(a[1] == b[0] for a, b in pairwise(one.asked))


def test_stopped_it_sends_only_status_and_goes_on_counting() -> None:
    board = Board(Counting(edge_ticks=[50_000, 150_000, 250_000, 350_000]))
    board.step(0.1)
    assert [type(m) for m in messages(board.receive(request(Stop())))] == [Status]
    quiet = board.step(0.2)
    assert {type(message) for message in messages(quiet)} == {Status}
    assert not only(Status, quiet)[-1].streaming
    told = board.receive(request(Start()))
    assert only(Status, told)[0].streaming
    again = board.step(0.1)
    assert only(Samples, again)[0].first_sample == 6000
    assert (only(Edges, again)[0].first_edge, only(Edges, again)[0].ticks) == (3, (350_000,))
    assert only(Status, again)[-1].dropped_blocks == 0  # nothing was dropped: it was asked to be silent


def test_a_clock_request_is_answered_with_its_token_and_the_tick_of_now() -> None:
    board = Board(Counting())
    board.step(1.234567)
    reply = only(ClockReply, board.receive(request(ClockRequest(2**63 + 5))))[0]
    assert reply == ClockReply(2**63 + 5, 1_234_567, 1_234_567)


def test_requests_are_read_in_any_cut_and_rubbish_between_them_is_passed_over() -> None:
    board = Board(Counting())
    board.step(0.01)
    stream = b"\x05rubbish\0" + request(ClockRequest(1)) + b"\xff\xff\0" + request(Describe())
    answers = b"".join(board.receive(stream[k : k + 1]) for k in range(len(stream)))
    kinds = [type(message) for message in messages(answers)]
    assert kinds == [ClockReply, Identity, ChannelDescription, InputDescription]


def test_another_version_is_answered_with_the_identity_alone() -> None:
    board = Board(Counting())
    board.step(0.01)
    answer = messages(board.receive(request(Describe(PROTOCOL_MAJOR + 1, 0))))
    assert [type(message) for message in answer] == [Identity]
    assert only(Samples, board.step(0.1))  # and it goes on as before


def test_blocks_without_room_are_dropped_and_counted_to_the_last() -> None:
    board = Board(Counting(edge_ticks=range(10_000, 3_000_000, 10_000)))
    board.step(0.1)
    dropped = b"".join(board.step(0.05, room=100) for _ in range(20))  # room for a status at most
    assert {type(message) for message in messages(dropped)} <= {Status}
    after = board.step(0.9)
    blocks = only(Samples, after)
    assert blocks[0].first_sample == 22_000
    last = only(Status, after)[-1]
    assert last.dropped_blocks == 200  # one second of blocks of 5 ms
    assert last.lost_edges == 100
    assert only(Edges, after)[0].first_edge == 110  # ten were sent, a hundred lost


def test_a_description_that_found_no_room_comes_with_the_next_status() -> None:
    board = Board(Counting())
    board.step(9.9)
    board.step(0.2, room=50)
    assert only(Identity, board.step(0.2))


def test_time_that_was_missed_is_a_gap_of_whole_samples_and_counted() -> None:
    board = Board(Counting(edge_ticks=[20_000, 150_000]))
    board.step(0.1)
    missed_s = board.miss(1.00001)
    assert missed_s == pytest.approx(1.00005)  # whole samples of 50 us
    after = board.step(0.1)
    blocks = only(Samples, after)
    assert blocks[0].first_sample == 2000 + 20_001
    assert blocks[0].tick == 50 * blocks[0].first_sample
    assert codes_of(blocks[0])[0, 0] == 2000  # the source stood still
    assert only(Status, after)[-1].dropped_blocks == 201
    assert only(Edges, after)[0].ticks == (150_000 + 1_000_050,)
    assert only(Edges, after)[0].first_edge == 2  # what the inputs did meanwhile nobody saw: one edge was not sent
    assert only(Status, after)[-1].lost_edges == 1
    assert only(Status, after)[0].tick == 1_100_050  # no status of the time that was missed


def test_a_source_that_ends_sends_its_last_samples_and_a_status_and_then_nothing() -> None:
    board = Board(Counting(end_tick=12_345))
    data = board.step(1.0)
    assert board.ended
    assert sum(block.count for block in only(Samples, data)) == 247  # 12 345 / 50, the one at 0 included
    assert only(Status, data)[-1].tick == 12_345
    assert board.step(10.0) == b""


def test_rates_without_a_short_common_step_are_refused() -> None:
    channels = (channel(0), channel(1, group=1, ticks=Fraction(12_345_679, 1000)))
    with pytest.raises(ValueError, match="common step"):
        Board(Counting(channels))


def test_the_truth_reaches_up_to_now() -> None:
    board = Board(Counting())
    board.step(0.01)
    assert [happening.control for happening in board.truth] == ["begun"]


def test_a_counter_tells_its_pulses_with_the_tick_of_the_last_one_and_itself_once_a_second() -> None:
    source = Counting(edge_ticks=[30_000, 31_000, 120_000, 121_000, 160_000])  # pulses begin at 30, 120 and 160 ms
    source.inputs = (InputDescription(0, InputKind.COUNTER, "shaft counter", 0, 1),)
    data = Board(source).step(2.5)
    counts = [(each.count, each.tick) for message in only(Counters, data) for each in message.counts]
    assert counts == [(0, 0), (1, 30_000), (2, 120_000), (3, 160_000), (3, 160_000), (3, 160_000)]
    assert only(Edges, data) == []  # a counter has no edges
    # Each comes at the next 50 ms, ahead of the block that is complete then.
    sent = [each for each in messages(data) if isinstance(each, Counters | Samples)]
    before = [
        next(b.tick for b in reversed(sent[:k]) if isinstance(b, Samples))
        for k, each in enumerate(sent)
        if k and isinstance(each, Counters)
    ]
    assert before[:3] == [40_000, 140_000, 190_000]


def test_a_pulse_input_and_a_counter_on_one_line_agree() -> None:
    source = Counting(edge_ticks=range(10_000, 900_000, 7_000))
    pulse = InputDescription(0, InputKind.PULSE, "pulse", 0, 1)
    source.inputs = (pulse, InputDescription(1, InputKind.COUNTER, "counter", 0, 1))
    data = Board(source).step(1.0)
    rising = [tick for each in only(Edges, data) for tick, state in zip(each.ticks, each.states, strict=True) if state]
    newest = only(Counters, data)[-1].counts[0]
    assert (newest.input, newest.count, newest.tick) == (1, len(rising), rising[-1])
