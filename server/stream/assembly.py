"""Blocks of one group -> windows on a grid that never moves.

Window k covers samples k * N .. (k + 1) * N - 1 as the board counts them, so damage never shifts a later window. A
sample that did not come stands in its place, missing. Assumes blocks in the order of the wire; knows no bytes of the
wire, no clock, no motor. Memory: two windows and what one push brings.
"""

from bisect import bisect_left, bisect_right
from collections import deque
from dataclasses import dataclass
from operator import attrgetter

from firmware_protocol import PAYLOAD_MAX
from firmware_protocol import Samples as Block
from server.readings import DamageReport
from server.samples import Samples
from server.stream.filling import Filling
from server.stream.scaling import Group

CLOCKS_MAY_DIFFER = 500e-6  # sample clock against tick clock across a gap: ten times what two crystals do
_BLOCK_HEADER = 14  # bytes of a samples message before its words
_first_sample = attrgetter("first_sample")


@dataclass(frozen=True, slots=True)
class Window:
    """A finished window. `seen_tick`: that of the message that finished it; `gap_first_tick`: the window stands for all
    those since that tick in which nothing came."""

    group: Group
    samples: Samples
    seen_tick: int
    gap_first_tick: int | None = None


class Assembler:
    """One group. `take` each block as it comes; `flush` before anything that must see what came before it."""

    def __init__(self, group: Group) -> None:
        self.group, self.channels = group, len(group.channels)
        self._open: deque[Filling] = deque()
        self._number: int | None = None  # the window that is to be finished next
        self._runs: list[list[Block]] = []  # blocks without a gap between them
        self._anew: set[int] = set()  # the runs with which the grid begins anew
        self._last: Block | None = None  # the newest
        self._anchor: Block | None = None  # one of about a window ago: what is a little wrong each time adds up from it
        self._anchored_to = -1  # the sample from which on the next one is taken
        self._next = -1  # the sample that the next block should begin with, and its tick; -1: any
        self._due = -1
        self._set_bytes = group.set_bytes
        self._whole_ticks = int(group.ticks_per_sample)
        self._patience = 2 * group.ticks((PAYLOAD_MAX - _BLOCK_HEADER) * 8 // group.word.bits // len(group.channels))

    def take(self, block: Block) -> DamageReport | None:
        """Queue a block; what is wrong with it is returned, and a block that cannot be placed is dropped."""
        first, tick = block.first_sample, block.tick
        report = None
        if first != self._next or not (tick == self._due or self._agrees(first, tick)):
            report, usable = self._judge(first, tick)
            if not usable:
                return report
            self._runs.append([block])
        elif self._runs:
            self._runs[-1].append(block)
        else:
            self._runs.append([block])
        self._last = block
        if first >= self._anchored_to:
            self._anchor, self._anchored_to = block, first + self.group.window
        count = len(block.words) // self._set_bytes
        self._next = first + count
        self._due = tick + self._whole_ticks * count
        return report

    def _agrees(self, first: int, tick: int) -> bool:
        """Sample number and tick have gone on together for about a window."""
        if self._anchor is None:
            return True
        due = self.group.ticks(first - self._anchor.first_sample)
        slack = 2 + self.group.ticks(1) + CLOCKS_MAY_DIFFER * abs(due)
        return abs(tick - self._anchor.tick - due) <= slack

    def _judge(self, first: int, tick: int) -> tuple[DamageReport | None, bool]:
        """What to say of a block that is not the next one, and whether it can be used."""
        board_s = tick / self.group.tick_hz
        if self._last is None:
            return None, True
        if first < self._next and tick <= self._last.tick:
            return DamageReport("late", board_s, "A block came again or too late and was left out", 1), False
        if first < self._next or not self._agrees(first, tick):
            self._anew.add(len(self._runs))
            self._anchor, self._anchored_to = None, -1
            text = "Sample numbers and board time did not go on together: the windows began anew"
            return DamageReport("contradiction", board_s, text, 1), True
        missing = first - self._next
        return DamageReport("gap", board_s, f"{missing} samples did not come", samples=missing), True

    def calibrate(self, group: Group) -> None:
        """The same group with other corrections: windows that begin from now on have them."""
        self.group = group

    def flush(self, fresh: list[tuple[Filling, int, int]], done: list[Window]) -> None:
        """Place what is queued: adds the new stretches, in turn, and the windows that they finished."""
        for place, run in enumerate(self._runs):
            if place in self._anew:  # what is open cannot be placed on the new grid
                self._open.clear()
                self._number = None
            self._reach(run[0].first_sample, run[0].tick, done)
            self._write(run, fresh)
            last = run[-1].first_sample
            while self._open and self._open[0].end <= last:
                beyond = bisect_left(run, self._open[0].end, key=_first_sample)
                done.append(self._finish(run[beyond].tick))
        self._runs.clear()
        self._anew.clear()

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

    def _write(self, run: list[Block], fresh: list[tuple[Filling, int, int]]) -> None:
        at, last, N = run[0].first_sample, run[-1], self.group.window
        end = last.first_sample + len(last.words) // self._set_bytes
        pieces = [block.words for block in run]
        if at // N == (end - 1) // N:  # nearly always
            self._add(at, end, pieces, run, fresh)
            return
        words, begin = b"".join(pieces), at
        while at < end:
            stop = min(end, (at // N + 1) * N)
            piece = words[(at - begin) * self._set_bytes : (stop - begin) * self._set_bytes]
            self._add(at, stop, [piece], run, fresh)
            at = stop

    def _add(
        self, at: int, stop: int, words: list[bytes], run: list[Block], fresh: list[tuple[Filling, int, int]]
    ) -> None:
        """Samples of one window; left out if it was finished without them, because they came too late."""
        N = self.group.window
        first = at // N * N
        if self._number is not None and first < self._number * N:
            return
        if not self._open or self._open[-1].first < first:
            self._open.append(Filling(self.group, first // N, self._tick_of(first, run)))
        window = self._open[-1]
        start, stop = at - first, stop - first
        window.add(start, stop, words)
        fresh.append((window, start, stop))

    def _tick_of(self, sample: int, run: list[Block]) -> int:
        """By the block that holds the sample, or else the first one behind it."""
        block = run[max(bisect_right(run, sample, key=_first_sample) - 1, 0)]
        return block.tick + self.group.ticks(sample - block.first_sample)

    def _finish(self, seen_tick: int, gap_first_tick: int | None = None) -> Window:
        window = self._open.popleft()
        self._number = window.first // self.group.window + 1
        return Window(window.group, window.samples(), seen_tick, gap_first_tick)
