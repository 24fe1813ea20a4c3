"""Blocks of one group -> windows on a grid that never moves.

Window k covers samples k * N .. (k + 1) * N - 1 as the board counts them, so damage never shifts a later window. A
sample that did not come stands in its place, missing. Assumes blocks in the order of the wire; knows no bytes of the
wire, no clock, no motor. Memory: two windows and what one push brings.
"""

from bisect import bisect_left, bisect_right
from collections import deque
from dataclasses import dataclass
from operator import itemgetter

from firmware_protocol import PAYLOAD_MAX
from firmware_protocol import Samples as Block
from server.readings import DamageReport
from server.samples import Samples
from server.stream.filling import Filling
from server.stream.scaling import Group

CLOCKS_MAY_DIFFER = 500e-6  # sample clock against tick clock across a gap: ten times what two crystals do
_BLOCK_HEADER = 14  # bytes of a samples message before its words


@dataclass(frozen=True, slots=True)
class Window:
    """A finished window. `seen_tick`: that of the message that finished it; `gap_first_tick`: the window stands for all
    those since that tick in which nothing came."""

    group: Group
    samples: Samples
    seen_tick: int
    gap_first_tick: int | None = None


@dataclass(slots=True)
class _Run:
    """Blocks without a gap between them; `starts` has first sample and tick of each."""

    words: list[bytes]
    starts: list[tuple[int, int]]


class Assembler:
    """One group. `take` each block as it comes; `flush` before anything that must see what came before it."""

    def __init__(self, group: Group) -> None:
        self.group, self.channels = group, len(group.channels)
        self._open: deque[Filling] = deque()
        self._number: int | None = None  # the window that is to be finished next
        self._runs: list[_Run] = []
        self._last: tuple[int, int] | None = None  # first sample and tick of the newest block
        self._next = -1  # the sample that the next block should begin with, and its tick; -1: any
        self._due = -1
        self._set_bytes = 2 * len(group.channels)
        self._whole_ticks = int(group.ticks_per_sample)
        self._patience = 2 * group.ticks((PAYLOAD_MAX - _BLOCK_HEADER) // 2 // len(group.channels))

    def take(self, block: Block) -> DamageReport | None:
        """Queue a block; what is wrong with it is returned, and a block that cannot be placed is dropped."""
        first, tick, words = block.first_sample, block.tick, block.words
        report = None
        if first != self._next or not (tick == self._due or self._agrees(first, tick)):
            report, usable = self._judge(first, tick)
            if not usable:
                return report
            self._runs.append(_Run([], []))
        elif not self._runs:
            self._runs.append(_Run([], []))
        run = self._runs[-1]
        run.words.append(words)
        run.starts.append((first, tick))
        self._last = first, tick
        count = len(words) // self._set_bytes
        self._next = first + count
        self._due = tick + self._whole_ticks * count
        return report

    def _agrees(self, first: int, tick: int) -> bool:
        """Sample number and tick have gone on together since the block before."""
        if self._last is None:
            return True
        due = self.group.ticks(first - self._last[0])
        slack = 2 + self.group.ticks(1) + CLOCKS_MAY_DIFFER * abs(due)
        return abs(tick - self._last[1] - due) <= slack

    def _judge(self, first: int, tick: int) -> tuple[DamageReport | None, bool]:
        """What to say of a block that is not the next one, and whether it can be used."""
        board_s = tick / self.group.tick_hz
        if self._last is None:
            return None, True
        if first < self._next and tick <= self._last[1]:
            return DamageReport("late", board_s, "A block came again or too late and was left out", 1), False
        if first < self._next or not self._agrees(first, tick):
            self._runs.clear()  # what is open cannot be placed on the new grid
            self._open.clear()
            self._number = None
            text = "Sample numbers and board time did not go on together: the windows began anew"
            return DamageReport("contradiction", board_s, text, 1), True
        missing = first - self._next
        return DamageReport("gap", board_s, f"{missing} samples did not come", samples=missing), True

    def flush(self, fresh: list[tuple[Filling, int, int]], done: list[Window]) -> None:
        """Place what is queued: adds the new stretches, in turn, and the windows that they finished."""
        for run in self._runs:
            first, tick = run.starts[0]
            self._reach(first, tick, done)
            self._write(run, fresh)
            while self._open and self._open[0].end <= run.starts[-1][0]:
                beyond = bisect_left(run.starts, (self._open[0].end,))
                done.append(self._finish(run.starts[beyond][1]))
        self._runs.clear()

    def settle(self, tick: int, done: list[Window]) -> None:
        """A status of this tick came: finish what must be complete by now, and what will not be completed any more."""
        while self._open:
            window = self._open[0]
            due = window.first_tick + self.group.ticks(self.group.window) + (0 if window.whole else self._patience)
            if tick < due:
                break
            done.append(self._finish(tick))

    def end(self, tick: int, done: list[Window]) -> None:
        """Nothing more will come: what is open is finished as it is. `tick`: the newest that was heard of."""
        while self._open:
            done.append(self._finish(tick))

    def _reach(self, first: int, tick: int, done: list[Window]) -> None:
        """Finish all windows before this sample; those in which nothing came are one."""
        while self._open and self._open[0].end <= first:
            done.append(self._finish(tick))
        if self._open:
            return
        number = first // self.group.window
        if self._number is None:
            self._number = number
        if self._number >= number:
            return
        gap_first_tick = tick - self.group.ticks(first - self._number * self.group.window)
        last = number - 1
        self._open.append(Filling(self.group, last, tick - self.group.ticks(first - last * self.group.window)))
        done.append(self._finish(tick, gap_first_tick))

    def _write(self, run: _Run, fresh: list[tuple[Filling, int, int]]) -> None:
        at, N = run.starts[0][0], self.group.window
        end = self._run_end(run)
        if at // N == (end - 1) // N:  # nearly always
            self._add(at, end, run.words, run, fresh)
            return
        words, begin = b"".join(run.words), at
        while at < end:
            stop = min(end, (at // N + 1) * N)
            piece = words[(at - begin) * self._set_bytes : (stop - begin) * self._set_bytes]
            self._add(at, stop, [piece], run, fresh)
            at = stop

    def _run_end(self, run: _Run) -> int:
        return run.starts[-1][0] + len(run.words[-1]) // self._set_bytes

    def _add(self, at: int, stop: int, words: list[bytes], run: _Run, fresh: list[tuple[Filling, int, int]]) -> None:
        """Samples of one window; left out if it was finished without them, because they came too late."""
        number = at // self.group.window
        if self._number is not None and number < self._number:
            return
        if not self._open or self._open[-1].first < number * self.group.window:
            self._open.append(Filling(self.group, number, self._tick_of(number * self.group.window, run)))
        window = self._open[-1]
        window.add(at - window.first, stop - window.first, words)
        fresh.append((window, at - window.first, stop - window.first))

    def _tick_of(self, sample: int, run: _Run) -> int:
        """By the block that holds the sample, or else the first one behind it."""
        start = max(bisect_right(run.starts, sample, key=itemgetter(0)) - 1, 0)
        anchor, tick = run.starts[start]
        return tick + self.group.ticks(sample - anchor)

    def _finish(self, seen_tick: int, gap_first_tick: int | None = None) -> Window:
        window = self._open.popleft()
        self._number = window.first // self.group.window + 1
        return Window(self.group, window.samples(), seen_tick, gap_first_tick)
