"""The binary of the emulated Cortex-M3: what is fed into its converter and inputs comes out, each in its place."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from firmware_protocol import (
    ChannelDescription,
    ClockReply,
    ClockRequest,
    Counters,
    Describe,
    Edges,
    Identity,
    InputDescription,
    Message,
    Received,
    Samples,
    Singles,
    Status,
    encode_frame,
)
from tests.firmware_protocol.firmware.bench import Fed, Reader, begin, reader, some_codes, some_edges, stream, until
from tests.firmware_protocol.firmware.emulator import Emulator
from tests.firmware_protocol.firmware.window import TICKS_PER_SAMPLE

pytestmark = pytest.mark.alone

SETS = 24_000
EDGES = 900


FED = Fed(some_codes(SETS, 1), *some_edges(SETS * TICKS_PER_SAMPLE, EDGES, 2))


@pytest.fixture(scope="module")
def whole(program: Path) -> Iterator[tuple[Reader, Emulator]]:
    """One run at the full rate, a second and a fifth of it, read to its end."""
    with Emulator(program) as emulator, reader(emulator) as line:
        emulator.window.warm(-1234)
        begin(emulator, line)
        line.say(Describe(), ClockRequest((1 << 64) - 1))
        stream(emulator, line, FED, SETS // 2)
        emulator.window.count(4711)
        stream(emulator, line, FED)
        yield line, emulator


def test_no_frame_is_damaged_or_lost_and_none_is_unknown(whole: tuple[Reader, Emulator]) -> None:
    assert whole[0].damage == []


def test_every_frame_is_the_one_that_the_codec_would_have_written(whole: tuple[Reader, Emulator]) -> None:
    received = [one for one in whole[0].found if isinstance(one, Received)]
    written = [encode_frame(one.message, sequence=one.sequence, boot=one.boot) for one in received]
    assert whole[0].bytes.startswith(b"\0" + b"".join(written))


def test_every_code_comes_out_under_its_number_with_its_tick(whole: tuple[Reader, Emulator]) -> None:
    codes = whole[0].codes()
    assert list(codes) == list(range(SETS))
    assert (np.array(list(codes.values())) == FED.codes).all()
    assert all(block.tick == TICKS_PER_SAMPLE * block.first_sample for block in whole[0].all(Samples))


def test_every_edge_comes_out_with_its_tick(whole: tuple[Reader, Emulator]) -> None:
    frames = whole[0].all(Edges)
    ticks = [tick for frame in frames for tick in frame.ticks]
    assert ticks == FED.edge_ticks[: len(ticks)].tolist()
    assert b"".join(frame.states for frame in frames) == FED.levels[: len(ticks)].tobytes()
    assert len(ticks) >= np.searchsorted(FED.edge_ticks, whole[0].all(Samples)[-1].tick)
    assert [frame.first_edge for frame in frames] == np.cumsum([0, *(len(f.ticks) for f in frames[:-1])]).tolist()


def test_no_edge_comes_after_a_message_of_a_later_tick(whole: tuple[Reader, Emulator]) -> None:
    told = 0
    for one in whole[0].found:
        assert isinstance(one, Received)
        match one.message:
            case Edges(ticks=ticks):
                assert ticks[0] >= told
            case Samples(tick=tick) | Status(tick=tick):
                told = max(told, tick)
            case Singles(singles):
                told = max(told, *(single.tick for single in singles))
            case Counters(counts):
                told = max(told, *(count.tick for count in counts))


def test_the_levels_in_a_status_are_those_at_its_tick(whole: tuple[Reader, Emulator]) -> None:
    for status in whole[0].all(Status):
        before = int(np.searchsorted(FED.edge_ticks, status.tick, side="right"))
        assert status.levels == (FED.levels[before - 1] if before else 0)


def test_a_status_comes_at_least_every_quarter_of_a_second_and_nothing_was_lost(
    whole: tuple[Reader, Emulator],
) -> None:
    statuses = whole[0].all(Status)
    ticks = [status.tick for status in statuses]
    assert max(np.diff([0, *ticks, SETS * TICKS_PER_SAMPLE])) <= 250_000
    assert {(s.dropped_blocks, s.overruns, s.lost_edges) for s in statuses} == {(0, 0, 0)}


def test_slow_samples_and_counts_come_as_often_as_was_promised(whole: tuple[Reader, Emulator]) -> None:
    singles = [single for message in whole[0].all(Singles) for single in message.singles]
    slow = whole[0].all(ChannelDescription)[8]
    assert slow.interval_ticks_max is not None
    assert {single.code for single in singles} == {-1234}
    assert all(np.diff([single.number for single in singles]) == 1)
    assert max(np.diff([0, *(single.tick for single in singles)])) <= slow.interval_ticks_max
    counts = [count for message in whole[0].all(Counters) for count in message.counts]
    assert counts[-1].count == 4711
    assert SETS // 2 <= counts[-1].tick // TICKS_PER_SAMPLE <= SETS // 2 + 1000


def test_the_full_profile_costs_no_more_than_four_percent_besides_its_samples(whole: tuple[Reader, Emulator]) -> None:
    line, seconds = whole[0], SETS * TICKS_PER_SAMPLE / 1e6
    sent: list[Message] = [*line.all(Samples), *line.all(Status), *line.all(Singles), *line.all(Counters)]
    described: list[Message] = [
        *line.all(Identity)[:1],
        *line.all(ChannelDescription)[:9],
        *line.all(InputDescription)[:5],
    ]
    again = sum(map(wire_length, described)) / 9  # every 9 s
    bytes_per_s = sum(map(wire_length, sent)) / seconds + again
    assert 1.0 < bytes_per_s / (8 * 2 * 1e6 / TICKS_PER_SAMPLE) <= 1.04


def wire_length(message: Message) -> int:
    return len(encode_frame(message, sequence=1, boot=1))


def test_a_clock_request_is_answered_with_its_token(whole: tuple[Reader, Emulator]) -> None:
    reply = whole[0].last(ClockReply)
    assert reply.token == (1 << 64) - 1
    assert reply.sent_tick - reply.received_tick <= 100_000


def test_it_touches_no_register_that_is_not_there(whole: tuple[Reader, Emulator]) -> None:
    assert whole[1].errors.read_text() == ""


def test_conversions_that_were_missed_keep_their_numbers_and_count_as_overruns(program: Path) -> None:
    missed = np.zeros(3000, np.bool_)
    missed[[100, 101, 1000, 1919, 1920, 2500]] = True
    fed = Fed(some_codes(3000, 3), missed=missed)
    with Emulator(program) as emulator, reader(emulator) as line:
        begin(emulator, line)
        stream(emulator, line, fed)
        codes = line.codes()
        emulator.window.feed(np.zeros((4000, 8), np.int16))  # so that a status falls due
        until(line, lambda: line.last(Status).tick > 150_000, "a later status")
        assert line.last(Status).overruns == 6
        assert line.last(Status).dropped_blocks == 0
    gone = set(range(max(codes))) - codes.keys()
    assert gone == set(np.flatnonzero(missed).tolist())
    assert all(codes[number] == fed.codes[number].tolist() for number in codes)
    assert line.damage == []
