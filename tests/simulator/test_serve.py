"""A board in step with real time: pacing, lateness, and readers that come, go or do not read. The clock is made."""

import os
import re
import threading
from itertools import pairwise

import pytest

from firmware_protocol import ClockReply, ClockRequest, Identity, Samples, Status, encode_frame
from simulator.board import Board
from simulator.serve import BEHIND_S_MAX, LINGER_S, PACE_S, QUEUE_BYTES_MAX, Paced, end_with_standard_input
from tests.simulator.fakes import Counting, channel, messages


class Clock:
    """Seconds that pass only when somebody waits."""

    def __init__(self) -> None:
        self.now_s = 1000.0

    def __call__(self) -> float:
        return self.now_s


class MadeLine:
    """A line that takes `takes` bytes at a time; None: all. Waiting on it moves the clock."""

    url = "made"

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self.is_open = True
        self.takes: int | None = None
        self.requests = b""
        self.late_s = 0.0
        self.got = b""

    def wait(self, seconds: float) -> bytes:
        assert 0 < seconds <= (1.11 * PACE_S if self.is_open else 1.0)
        self._clock.now_s += seconds + self.late_s
        self.late_s = 0.0
        requests, self.requests = self.requests, b""
        return requests

    def write(self, data: bytes) -> int:
        taken = data[: self.takes] if self.takes is not None else data
        self.got += taken
        return len(taken)

    def close(self) -> None: ...


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def line(clock: Clock) -> MadeLine:
    return MadeLine(clock)


@pytest.fixture
def said() -> list[str]:
    return []


@pytest.fixture
def board() -> Board:
    return Board(Counting((channel(0), channel(1))))


@pytest.fixture
def paced(board: Board, line: MadeLine, said: list[str], clock: Clock) -> Paced:
    return Paced(board, line, said.append, clock)


def turns(paced: Paced, seconds: float) -> None:
    for _ in range(round(seconds / PACE_S)):
        paced.turn()


def test_board_time_keeps_up_with_the_clock_without_drift(paced: Paced, line: MadeLine, board: Board) -> None:
    for _ in range(2000):
        line.late_s = 0.0013  # every wait wakes late
        paced.turn()
    # Beats stay on their grid: a late wake-up is made up for by the next, shorter wait.
    assert board.tick == pytest.approx(10_000_000, abs=10_000)
    assert sum(m.count for m in messages(line.got) if isinstance(m, Samples)) == board.tick // 5000 * 100


def test_requests_are_answered_with_the_tick_of_now(paced: Paced, line: MadeLine, board: Board) -> None:
    turns(paced, 0.5)
    line.requests = encode_frame(ClockRequest(9), sequence=0)
    paced.turn()
    reply = next(m for m in messages(line.got) if isinstance(m, ClockReply))
    assert (reply.token, reply.received_tick) == (9, board.tick)


def test_half_a_second_late_it_says_so_and_what_was_missed_is_counted(
    paced: Paced, line: MadeLine, said: list[str], board: Board, clock: Clock
) -> None:
    turns(paced, 0.1)
    line.late_s = BEHIND_S_MAX - 0.02
    turns(paced, 0.3)
    assert said == []  # not late enough: it catches up
    line.late_s = 2.0
    turns(paced, 0.3)
    assert len(said) == 1
    told = re.fullmatch(r"The software board was 2\.0 s behind real time; it dropped (\d+) blocks\.", said[0])
    assert told is not None
    blocks_told = int(told[1])
    assert 400 <= blocks_told <= 402
    sent = messages(line.got)
    assert [m.dropped_blocks for m in sent if isinstance(m, Status)][-1] == blocks_told
    blocks = [m for m in sent if isinstance(m, Samples)]
    gaps = [b.first_sample - a.first_sample - a.count for a, b in pairwise(blocks)]
    assert [gap for gap in gaps if gap] == [pytest.approx(100 * blocks_told, abs=100)]
    assert board.tick == pytest.approx((clock.now_s - 1000.0) * 1e6, abs=6000)


def test_a_reader_that_stops_reading_costs_blocks_that_are_counted_and_never_a_wait(
    paced: Paced, line: MadeLine, said: list[str]
) -> None:
    turns(paced, 0.2)
    line.takes = 0
    turns(paced, 5.0)
    line.takes = None
    turns(paced, 1.0)
    sent = messages(line.got)  # whole frames, none damaged, no sequence number missing
    blocks = [m for m in sent if isinstance(m, Samples)]
    lost = sum(b.first_sample - a.first_sample - a.count for a, b in pairwise(blocks))
    assert [m.dropped_blocks for m in sent if isinstance(m, Status)][-1] == lost / 100 > 500
    assert said == []


def test_what_waits_for_a_slow_reader_has_a_limit(paced: Paced, line: MadeLine) -> None:
    turns(paced, 0.1)
    line.takes = 0
    before = len(line.got)
    turns(paced, 600 * PACE_S)
    line.takes = None
    paced.turn()
    assert QUEUE_BYTES_MAX * 0.9 < len(line.got) - before <= QUEUE_BYTES_MAX


@pytest.mark.parametrize("pace", [0.1, 10.0])
def test_at_a_pace_board_time_keeps_up_with_that_many_seconds_of_the_clock(
    pace: float, line: MadeLine, board: Board, clock: Clock, said: list[str]
) -> None:
    turns(Paced(board, line, said.append, clock, pace=pace), 3.0)
    assert board.tick == pytest.approx(3e6 * pace, abs=2 * PACE_S * pace * 1e6)
    assert said == []


def test_faster_than_real_time_it_waits_for_a_slow_reader_and_drops_nothing(
    line: MadeLine, board: Board, clock: Clock, said: list[str]
) -> None:
    paced = Paced(board, line, said.append, clock, pace=10.0)
    turns(paced, 0.5)
    line.takes = 0
    turns(paced, 5.0)
    line.takes = None
    turns(paced, 0.5)
    sent = messages(line.got)
    blocks = [m for m in sent if isinstance(m, Samples)]
    assert [b.first_sample for b in blocks] == [100 * k for k in range(len(blocks))]
    assert all(m.dropped_blocks == 0 for m in sent if isinstance(m, Status))
    assert board.tick < 15e6
    assert said == []


def test_without_a_reader_bytes_are_gone_as_from_an_open_end_and_nothing_counts_as_dropped(
    paced: Paced, line: MadeLine
) -> None:
    line.is_open = False
    turns(paced, 2.0)
    assert line.got == b""
    line.is_open = True
    turns(paced, 0.5)
    assert line.got[0] == 0  # ends what the reader before had half of
    sent = messages(line.got)
    assert all(m.dropped_blocks == 0 for m in sent if isinstance(m, Status))
    first = next(m for m in sent if isinstance(m, Samples))
    assert first.first_sample == pytest.approx(40_000, abs=200)


def test_a_board_with_a_fast_clock_lives_a_little_faster(line: MadeLine, said: list[str], clock: Clock) -> None:
    board = Board(Counting())
    board.clock_error_ppm = 500.0
    paced = Paced(board, line, said.append, clock)
    turns(paced, 20.0)
    assert board.tick == pytest.approx(20_000_000 * 1.0005, abs=6000)


def test_it_ends_when_its_source_has_ended_and_all_is_sent(line: MadeLine, said: list[str], clock: Clock) -> None:
    Paced(Board(Counting(end_tick=1_000_000)), line, said.append, clock).run()
    assert clock.now_s == pytest.approx(1000.0 + 1.0 + LINGER_S, abs=0.02)
    assert sum(m.count for m in messages(line.got) if isinstance(m, Samples)) == 20_000


def test_a_recording_may_wait_for_its_reader_and_misses_neither_a_sample_nor_a_request(
    line: MadeLine, said: list[str], clock: Clock
) -> None:
    line.is_open = False
    board = Board(Counting(end_tick=1_000_000))
    paced = Paced(board, line, said.append, clock)
    waits = 0

    def wait(seconds: float) -> bytes:
        nonlocal waits
        waits += 1
        clock.now_s += seconds
        line.is_open = waits > 100
        return encode_frame(ClockRequest(5), sequence=0) if waits == 102 else b""

    line.wait = wait  # type: ignore[method-assign]  # opened by somebody in the 101st wait
    paced.begin_when_opened()
    assert line.got == b""
    paced.run()
    sent = messages(line.got)
    assert isinstance(sent[0], Identity)
    assert sum(m.count for m in sent if isinstance(m, Samples)) == 20_000
    assert sum(isinstance(m, ClockReply) for m in sent) == 1
    assert said == []


def test_only_a_pipe_on_standard_input_is_a_lifeline(monkeypatch: pytest.MonkeyPatch) -> None:
    begun: list[object] = []

    class Thread:
        def __init__(self, target: object, args: tuple[object, ...], daemon: bool) -> None:
            begun.append(target)

        def start(self) -> None: ...

    monkeypatch.setattr(threading, "Thread", Thread)
    null = os.open(os.devnull, os.O_RDONLY)
    read_end, write_end = os.pipe()
    saved = os.dup(0)
    try:
        os.dup2(null, 0)
        end_with_standard_input()
        assert begun == []
        os.dup2(read_end, 0)
        end_with_standard_input()
        assert len(begun) == 1
    finally:
        os.dup2(saved, 0)
        for descriptor in (null, read_end, write_end, saved):
            os.close(descriptor)
