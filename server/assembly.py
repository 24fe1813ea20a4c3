"""Blocks of one group -> windows on a grid that never moves.

Window k covers samples k * N .. (k + 1) * N - 1 as the board counts them, so damage never shifts a later window. A
sample that did not come stands in its place, missing. Assumes blocks in the order of the wire; knows no bytes of the
wire, no clock, no motor. Memory: two windows and what one push brings.
"""

from bisect import bisect_right
from collections import deque
from dataclasses import dataclass
from operator import itemgetter

import numpy as np
from numpy.typing import NDArray

from firmware_protocol import PAYLOAD_MAX
from firmware_protocol import Samples as Block
from server.readings import DamageReport
from server.samples import Samples
from server.scaling import Group, clipped_in, scale_words

CLOCKS_MAY_DIFFER = 500e-6  # sample clock against tick clock across a gap: ten times what two crystals do
_BLOCK_HEADER = 14  # bytes of a samples message before its words


@dataclass(frozen=True, slots=True)
class Window:
    """A finished window. `order` and `seen_tick` are those of the message that finished it; `gap_first_tick`: the
    window stands for all those since that tick in which nothing came."""

    group: Group
    samples: Samples
    order: int
    seen_tick: int
    gap_first_tick: int | None = None


@dataclass(slots=True)
class _Run:
    """Blocks without a gap between them; `starts` has first sample, tick and order of each."""

    words: list[bytes]
    starts: list[tuple[int, int, int]]


class _Open:
    """A window that is being filled. `held`: the stretches that have come, in turn, ends excluded."""

    def __init__(self, group: Group, number: int, first_tick: int) -> None:
        self.first = number * group.window
        self.end = self.first + group.window
        self.first_tick = first_tick
        self.values = np.empty((len(group.channels), group.window))
        self.clipped: NDArray[np.bool_] | None = None
        self.held: list[tuple[int, int]] = []

    def hold(self, start: int, stop: int) -> None:
        if self.held and self.held[-1][1] == start:
            self.held[-1] = self.held[-1][0], stop
        else:
            self.held.append((start, stop))


class Assembler:
    """One group. `take` each block as it comes; `flush` before anything that must see what came before it."""

    def __init__(self, group: Group) -> None:
        self.group = group
        # Shared by all undamaged windows: nothing clipped, nothing missing.
        self._unclipped = np.zeros((len(group.channels), group.window), dtype=np.bool_)
        self._unmissed = np.zeros(group.window, dtype=np.bool_)
        self._unclipped.flags.writeable = self._unmissed.flags.writeable = False
        self._open: deque[_Open] = deque()
        self._number: int | None = None  # the window that is to be finished next
        self._runs: list[_Run] = []
        self._last: tuple[int, int] | None = None  # first sample and tick of the newest block
        self._next: int | None = None  # the sample that the next block should begin with
        self._patience = 2 * group.ticks((PAYLOAD_MAX - _BLOCK_HEADER) // 2 // len(group.channels))

    def take(self, block: Block, order: int) -> DamageReport | None:
        """Queue a block; what is wrong with it is returned, and a block that cannot be placed is dropped."""
        first, tick = block.first_sample, block.tick
        report = None
        if first != self._next or not self._agrees(first, tick):
            report, usable = self._judge(first, tick)
            if not usable:
                return report
            self._runs.append(_Run([], []))
        elif not self._runs:
            self._runs.append(_Run([], []))
        run = self._runs[-1]
        run.words.append(block.words)
        run.starts.append((first, tick, order))
        self._next = first + block.count
        self._last = first, tick
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
        if self._next is None or self._last is None:
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

    def flush(self) -> tuple[list[Samples], list[Window]]:
        """Scale what is queued: the new stretches, in turn, and the windows that they finished."""
        fresh: list[Samples] = []
        done: list[Window] = []
        for run in self._runs:
            first, tick, order = run.starts[0]
            self._reach(first, tick, order, done)
            self._write(run, fresh)
            for first, tick, order in run.starts[1:]:
                while self._open and self._open[0].end <= first:
                    done.append(self._finish(order, tick))
        self._runs.clear()
        return fresh, done

    def settle(self, tick: int, order: int) -> list[Window]:
        """A status of this tick came: finish what must be complete by now, and what will not be completed any more."""
        done = []
        while self._open:
            window = self._open[0]
            whole = window.held == [(0, self.group.window)]
            due = window.first_tick + self.group.ticks(self.group.window) + (0 if whole else self._patience)
            if tick < due:
                break
            done.append(self._finish(order, tick))
        return done

    def end(self, tick: int, order: int) -> list[Window]:
        """Nothing more will come: what is open is finished as it is. `tick`: the newest that was heard of."""
        return [self._finish(order, tick) for _ in range(len(self._open))]

    def _reach(self, first: int, tick: int, order: int, done: list[Window]) -> None:
        """Finish all windows before this sample; those in which nothing came are one."""
        number = first // self.group.window
        while self._open and self._open[0].end <= first:
            done.append(self._finish(order, tick))
        if self._open:
            return
        if self._number is None:
            self._number = number
        if self._number >= number:
            return
        gap_first_tick = tick - self.group.ticks(first - self._number * self.group.window)
        last = number - 1
        self._open.append(_Open(self.group, last, tick - self.group.ticks(first - last * self.group.window)))
        done.append(self._finish(order, tick, gap_first_tick))

    def _write(self, run: _Run, fresh: list[Samples]) -> None:
        words = run.words[0] if len(run.words) == 1 else b"".join(run.words)
        N, set_bytes = self.group.window, 2 * len(self.group.channels)
        at = begin = run.starts[0][0]
        end = begin + len(words) // set_bytes
        while at < end:
            number = at // N
            stop = min(end, (number + 1) * N)
            window = self._window(number, run)
            if window is not None:
                piece = words[(at - begin) * set_bytes : (stop - begin) * set_bytes]
                fresh.append(self._place(window, piece, at - window.first, stop - window.first))
            at = stop

    def _window(self, number: int, run: _Run) -> _Open | None:
        """The open window of that number; None if it was finished without these samples, which came too late."""
        if self._number is not None and number < self._number:
            return None
        if not self._open or self._open[-1].first < number * self.group.window:
            first = number * self.group.window
            # Its tick comes from the block that holds its first sample, or else from the first one behind that.
            start = max(bisect_right(run.starts, first, key=itemgetter(0)) - 1, 0)
            anchor, tick, _ = run.starts[start]
            self._open.append(_Open(self.group, number, tick + self.group.ticks(first - anchor)))
        return self._open[-1]

    def _place(self, window: _Open, words: bytes, start: int, stop: int) -> Samples:
        values = window.values[:, start:stop]
        scale_words(self.group, words, values)
        clipped = clipped_in(self.group, values)
        if clipped is not None:
            if window.clipped is None:
                window.clipped = np.zeros_like(self._unclipped)
            window.clipped[:, start:stop] = clipped
        window.hold(start, stop)
        tick = window.first_tick + self.group.ticks(start)
        marks = self._unclipped[:, start:stop] if clipped is None else clipped
        return self._samples(window.first + start, tick, values, self._unmissed[start:stop], marks)

    def _finish(self, order: int, seen_tick: int, gap_first_tick: int | None = None) -> Window:
        window = self._open.popleft()
        self._number = window.first // self.group.window + 1
        missing = self._unmissed
        if window.held != [(0, self.group.window)]:
            missing = np.ones(self.group.window, dtype=np.bool_)
            for start, stop in window.held:
                missing[start:stop] = False
            window.values[:, missing] = np.nan
        clipped = self._unclipped if window.clipped is None else window.clipped
        samples = self._samples(window.first, window.first_tick, window.values, missing, clipped)
        return Window(self.group, samples, order, seen_tick, gap_first_tick)

    def _samples(
        self,
        first: int,
        tick: int,
        values: NDArray[np.float64],
        missing: NDArray[np.bool_],
        clipped: NDArray[np.bool_],
    ) -> Samples:
        group = self.group
        return Samples(
            group.channels, first, tick, float(group.ticks_per_sample), group.tick_hz, values, missing, clipped
        )
