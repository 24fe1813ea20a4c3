"""The binary of the 8-bit board, the very one that a person programs, in simavr: converter, pins, line, kept memory."""

from fractions import Fraction
from itertools import pairwise
from random import Random
from typing import TypeVar

import numpy as np
import pytest

from firmware_protocol import (
    ChannelDescription,
    ClockReply,
    ClockRequest,
    Damage,
    Describe,
    Edges,
    Identity,
    InputDescription,
    Received,
    Samples12,
    Start,
    Status,
    Stop,
    Word,
    encode_frame,
)
from tests.firmware_protocol.firmware.c_core import Core
from tests.firmware_protocol.firmware.small import CPU_HZ, EDGES_PER_S, TICK_CYCLES, Ran, Small, Wave, said
from tests.firmware_protocol.plain import codes_of

pytestmark = pytest.mark.alone

SECONDS, CHANNELS = 1.2, 4
WAVES = (
    Wave(2500, 2400, CPU_HZ / 50, 0.0),
    Wave(2500, 2400, CPU_HZ / 50, 2.1),
    Wave(2500, 2400, CPU_HZ / 50, 4.2),
    Wave(2500, 700, CPU_HZ / 87, 1.0),
)
TOKEN = 0x8000_0000_0000_0001
ASKED = ((0.3, (Describe(), Start(), ClockRequest(TOKEN))), (0.7, (ClockRequest(2),)))
_M = TypeVar("_M")


def some_edges(per_s: int = EDGES_PER_S) -> list[tuple[int, int]]:
    """Cycle and levels of edges at random moments, in the order of a turning motor and back again."""
    draw, cycle, at, edges = Random(1), int(0.1 * CPU_HZ), 0, []
    while cycle < 1.19 * CPU_HZ:
        at += 1 if cycle < 0.6 * CPU_HZ else -1
        edges.append((cycle, (5, 1, 3, 2, 6, 4)[at % 6]))
        cycle += round(CPU_HZ / per_s * draw.uniform(0.3, 1.7))
    return edges


EDGES = some_edges()


@pytest.fixture(scope="module")
def ran(small: Small) -> Ran:
    pins = [f"pins {cycle} {levels}" for cycle, levels in EDGES]
    asked = [line for seconds, what in ASKED for line in said(seconds, *what)]
    return small.run(SECONDS, WAVES, ["pins 1 5", *pins, *asked])


def messages(ran: Ran, kind: type[_M]) -> list[_M]:
    return [one.message for one in ran.found if isinstance(one, Received) and isinstance(one.message, kind)]


def sets_of(ran: Ran) -> dict[int, list[int]]:
    return {
        block.first_sample + k: codes
        for block in messages(ran, Samples12)
        for k, codes in enumerate(codes_of(block.words, block.channels, 12))
    }


def test_no_frame_is_damaged_and_each_is_the_one_that_the_codec_would_have_written(ran: Ran) -> None:
    received = [one for one in ran.found if isinstance(one, Received)]
    assert len(received) == len(ran.found)
    written = b"".join(encode_frame(one.message, sequence=one.sequence, boot=one.boot) for one in received)
    assert ran.wire.startswith(b"\0" + written)


def test_it_says_what_the_same_source_says_on_a_pc(ran: Ran, core: Core) -> None:
    described = core.description("about_250000", boot=1)
    assert ran.wire.startswith(b"\0" + described)
    assert len(described) > 500


def test_every_set_comes_and_every_code_is_what_was_at_its_pin(ran: Ran) -> None:
    """simavr turns 5000 mV into 1023; a real converter into 1024 (data sheet, from memory), which is within one."""
    sets, conversions = sets_of(ran), ran.conversions[1:]  # the first one only wakes the converter
    assert list(sets) == list(range(len(sets)))
    assert len(sets) >= 2000 * SECONDS - 300
    for number, codes in sets.items():
        taken = conversions[CHANNELS * number : CHANNELS * (number + 1)]
        assert [one.channel for one in taken] == list(range(CHANNELS))
        for one, code in zip(taken, codes, strict=True):
            assert code + 512 == one.millivolt * 1023 // 5000


def test_a_waveform_comes_out_where_it_was_in_time_as_the_description_says(ran: Ran) -> None:
    """Each code is within one of the wave at its tick less the delay, give or take what the wave does in its limit.

    The wave is at the pin of the converter, behind the filter: R C of it and a tenth for its capacitor are taken off.
    """
    channels, blocks = messages(ran, ChannelDescription), messages(ran, Samples12)
    start = ran.timer_starts[-1]
    for block in blocks:
        for k, codes in enumerate(codes_of(block.words, CHANNELS, 12)):
            for channel, wave, code in zip(channels[:CHANNELS], WAVES, codes, strict=True):
                assert channel.delay_limit_ns is not None
                assert channel.corner_high_hz
                filter_ns = 1e9 / (2 * np.pi * channel.corner_high_hz)
                delay_ns, limit_ns = channel.delay_ns - filter_ns, channel.delay_limit_ns - filter_ns / 10
                cycle = start + (block.tick + k * 125) * TICK_CYCLES - delay_ns * 0.016
                steepest = wave.amplitude_mv * 2 * np.pi / wave.period_cycles * limit_ns * 0.016
                assert abs(code + 512 - wave.at(round(cycle)) * 1024 / 5000) <= 1.5 + steepest * 1024 / 5000


def test_blocks_follow_one_another_at_two_thousand_sets_a_second(ran: Ran) -> None:
    blocks = messages(ran, Samples12)
    assert all((b.first_sample - a.first_sample, b.tick - a.tick) == (16, 2000) for a, b in pairwise(blocks))
    assert all(len(block.words) == 96 for block in blocks)


def test_every_edge_comes_with_a_stamp_within_one_tick_of_its_moment(ran: Ran) -> None:
    """Less the delay that the board says of its inputs."""
    frames, (described, *_) = messages(ran, Edges), messages(ran, InputDescription)
    stamped = [(tick, state) for frame in frames for tick, state in zip(frame.ticks, frame.states, strict=True)]
    told_until = messages(ran, Status)[-1].tick
    due = [edge for edge in EDGES if ran.tick_at(edge[0]) < told_until - 2]
    assert len(stamped) >= len(due) > 450
    assert [state for _, state in stamped] == [levels for _, levels in EDGES[: len(stamped)]]
    delay_ticks = described.delay_ns * 1e-9 * CPU_HZ / TICK_CYCLES
    late = [tick - delay_ticks - ran.tick_at(cycle) for (tick, _), (cycle, _) in zip(stamped, EDGES, strict=False)]
    assert max(map(abs, late)) <= 1.0
    assert [frame.first_edge for frame in frames] == np.cumsum([0, *(len(f.ticks) for f in frames[:-1])]).tolist()


def test_nothing_is_lost_and_a_status_comes_every_quarter_of_a_second(ran: Ran) -> None:
    statuses = messages(ran, Status)
    assert {(s.dropped_blocks, s.overruns, s.lost_edges) for s in statuses} == {(0, 0, 0)}
    assert max(b.tick - a.tick for a, b in pairwise(statuses)) <= 62_500


def test_at_600_edges_a_second_not_one_is_lost_though_the_emulators_line_is_a_tenth_slower_than_a_real_one(
    small: Small,
) -> None:
    """A description and a few requests on top are then more than it carries: a set or two may go, and are counted."""
    asked = [line for seconds, what in ASKED for line in said(seconds, *what)]
    ran = small.run(SECONDS, WAVES, ["pins 1 5", *(f"pins {at} {levels}" for at, levels in some_edges(600)), *asked])
    last, frames = messages(ran, Status)[-1], messages(ran, Edges)
    assert (last.lost_edges, last.dropped_blocks) == (0, 0)
    assert last.overruns <= 2
    assert [frame.first_edge for frame in frames] == np.cumsum([0, *(len(f.ticks) for f in frames[:-1])]).tolist()
    assert frames[-1].first_edge > 550
    numbers = list(sets_of(ran))
    assert numbers[-1] + 1 - len(numbers) == last.overruns


@pytest.mark.parametrize("edges_per_s", [2000, 5000])
def test_a_hall_wire_that_rings_costs_edges_and_says_so_while_blocks_and_status_go_on(
    small: Small, edges_per_s: int
) -> None:
    """More edges than the line can carry."""
    begin, end = 0.1, 0.9
    moments = np.arange(begin, end, 1 / edges_per_s) * CPU_HZ
    ran = small.run(1.0, WAVES, ["pins 1 5", *(f"pins {round(at)} {4 + k % 2}" for k, at in enumerate(moments))])
    assert not [one for one in ran.found if isinstance(one, Damage)]
    statuses, blocks, edges = messages(ran, Status), messages(ran, Samples12), messages(ran, Edges)
    assert max(b.tick - a.tick for a, b in pairwise(statuses)) <= 62_500
    assert statuses[-1].lost_edges > 0.2 * moments.size
    sent = [frame for frame in edges if frame.ticks[-1] <= statuses[-1].tick]
    count = sum(len(frame.ticks) for frame in sent)
    assert count < sent[-1].first_edge + len(sent[-1].ticks) <= count + statuses[-1].lost_edges
    assert len(blocks) > 0.6 * 2000 / 16 * (1.0 - 0.02)


def test_it_describes_itself_when_asked_and_streams_on(ran: Ran) -> None:
    assert len(messages(ran, Identity)) == 2
    assert len(messages(ran, ChannelDescription)) == 2 * CHANNELS


def test_a_clock_request_is_answered_with_the_moment_at_which_it_came(ran: Ran) -> None:
    first, second = messages(ran, ClockReply)
    assert (first.token, second.token) == (TOKEN, 2)
    ends = [int(said(s, *what)[-1].split()[1]) for s, what in ASKED]
    for reply, cycle in zip((first, second), ends, strict=True):
        # simavr takes a byte every 704 cycles at the soonest, and may hold some back.
        assert -1 <= reply.received_tick - ran.tick_at(cycle) <= 0.003 * CPU_HZ / TICK_CYCLES
        assert 0 <= reply.sent_tick - reply.received_tick <= 25_000


def test_it_stops_and_starts_as_it_is_told_and_numbers_go_on(small: Small) -> None:
    ran = small.run(0.8, WAVES, ["pins 1 0", *said(0.3, Stop()), *said(0.6, Start())])
    numbers = list(sets_of(ran))
    (stopped,) = (a for a, b in pairwise(numbers) if b != a + 1)
    starts = numbers[numbers.index(stopped) + 1]
    assert 500 <= stopped <= 620
    assert 1100 <= starts <= 1220
    assert [s.streaming for s in messages(ran, Status)] == [True, True, False, True]


def test_the_range_switch_is_read_at_power_on_and_makes_another_revision_when_it_moves(small: Small) -> None:
    """Steps of 70 V and 15 V / 1024, as in BOARD.md; the whole new description comes before the next block."""
    ran = small.run(0.8, WAVES, ["switch 1 0", f"switch {round(0.4 * CPU_HZ)} 1"])
    identities, channels = messages(ran, Identity), messages(ran, ChannelDescription)
    assert [who.revision for who in identities] == [0, 1]
    assert [(c.scale, c.offset) for c in channels[:3]] == [(15 / 1024, 2.5)] * 3
    assert [(c.scale, c.offset) for c in channels[CHANNELS : CHANNELS + 3]] == [(70 / 1024, 30.0)] * 3
    assert channels[3].scale == channels[CHANNELS + 3].scale == 125 / 1024
    kinds = [type(one.message) for one in ran.found if isinstance(one, Received)]
    again = kinds.index(Identity, kinds.index(Identity) + 1)
    assert Samples12 not in kinds[again : again + 1 + CHANNELS + 3]


def test_a_reset_is_a_new_start_whose_number_is_kept(small: Small) -> None:
    ran = small.run(0.6, WAVES, [f"reset {round(0.3 * CPU_HZ)}"])
    first, second = messages(ran, Identity)
    assert (first.boot, second.boot) == (1, 2)
    assert messages(ran, Samples12)[-1].tick < 0.31 * 250_000
    assert len([one for one in ran.found if isinstance(one, Damage)]) <= 1


def test_the_lines_are_the_two_that_it_is_made_for(ran: Ran, small: Small, core: Core) -> None:
    """Dividers of the data sheet: 16 MHz / 16 / (n + 1), with clock doubling / 8 (from memory)."""
    slow = small.run(0.25, WAVES, [], "_115200")
    assert (ran.divider, ran.doubled) == (3, False)
    assert CPU_HZ / 16 / (ran.divider + 1) == 250_000
    assert (slow.divider, slow.doubled) == (16, True)
    assert abs(CPU_HZ / 8 / (slow.divider + 1) / 115_200 - 1) < 0.022
    # The emulator's line is half as fast there, so blocks are dropped; what does come is compared.
    described = core.description("about_115200", boot=1)
    assert slow.wire.startswith(b"\0" + described)
    assert messages(slow, ChannelDescription)[0].ticks_per_sample == 250


def test_what_is_described_fits_what_comes(ran: Ran) -> None:
    channels = messages(ran, ChannelDescription)[:CHANNELS]
    assert {(c.word, c.ticks_per_sample) for c in channels} == {(Word.PACKED12, Fraction(125))}
    assert {(c.code_low, c.code_high) for c in channels} == {(-512, 511)}  # ten bits
    assert {block.channels for block in messages(ran, Samples12)} == {CHANNELS}
