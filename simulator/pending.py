"""What a board has measured and not sent yet: blocks of each group, edges, counts, single samples."""

from collections import deque
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from firmware_protocol import (
    PAYLOAD_MAX,
    ChannelDescription,
    Count,
    Counters,
    Edges,
    InputDescription,
    InputKind,
    SampleBlock,
    Single,
    Singles,
)
from simulator.front_end import FrontEnd, quantise
from simulator.source import SlowValue
from simulator.words import block_of

_SAMPLES_HEAD, _EDGES_HEAD = 14, 4  # payload bytes before the first sample or edge
_EDGES_MAX = (PAYLOAD_MAX - _EDGES_HEAD) // 7
_SINGLES_MAX = PAYLOAD_MAX // 15


class PendingGroup:
    """Blocks of one group of even channels: as long as a frame and `block_s_max` allow."""

    def __init__(
        self,
        channels: tuple[ChannelDescription, ...],
        front_end: FrontEnd,
        block_ticks_max: float,
        total: int | None = None,
    ) -> None:
        ticks, group = channels[0].ticks_per_sample, channels[0].group
        if ticks is None or group is None:
            raise ValueError(f"channel {channels[0].index} ({channels[0].name}) has no group or rate")
        self.number, self.ticks_per_sample, self._front_end = group, ticks, front_end
        self._ticks, self._over = ticks.numerator, ticks.denominator  # fractions take 20 times as long (measured)
        self._word, self._left = channels[0].word, total
        fitting = 8 * (PAYLOAD_MAX - _SAMPLES_HEAD) // (self._word.bits * len(channels))
        sets = min(int(block_ticks_max / ticks), fitting)
        if sets > ticks.denominator:
            sets -= sets % ticks.denominator  # so that every block begins on a whole tick
        self.sets = max(1, sets)
        self.brief = self.sets * ticks <= block_ticks_max  # its blocks are; a slow group has one set in each
        self._first = 0
        self._codes = np.zeros((0, len(channels)), np.int32)
        self.due_tick = self._due()

    def _due(self) -> int | None:
        """When the next block is complete: the tick at which the sample after its last is due. None: no more."""
        count = self._count()
        return -(-(self._first + count) * self._ticks // self._over) if count else None

    def _count(self) -> int:
        return self.sets if self._left is None else min(self.sets, self._left)

    def add(self, values: NDArray[np.float64]) -> None:
        """New sample sets in SI units, (channels, sets)."""
        self._codes = np.concatenate((self._codes, self._front_end.codes(values)))

    def take(self) -> SampleBlock:
        """The next block, which must be due."""
        count, first = self._count(), self._first
        codes, self._codes = self._codes[:count], self._codes[count:]
        self._first += count
        if self._left is not None:
            self._left -= count
        self.due_tick = self._due()
        tick = (2 * first * self._ticks + self._over) // (2 * self._over)  # rounded
        return block_of(self._word, self.number, first, tick, codes)

    def shift(self, ticks: int) -> int:
        """Let time pass without samples, in whole samples; returns how many blocks it would have been."""
        self._first += ticks * self._over // self._ticks
        self.due_tick = self._due()
        return -(-ticks * self._over // (self.sets * self._ticks))


class _Edge(NamedTuple):
    tick: int
    state: int


class PendingEdges:
    """Edges in order of their ticks; knows the level of the wires at what was taken last."""

    def __init__(self, level: int) -> None:
        self.level = level
        self._number = 0
        self._edges: deque[_Edge] = deque()

    @property
    def next_tick(self) -> int | None:
        return self._edges[0].tick if self._edges else None

    def add(self, ticks: NDArray[np.int64], states: NDArray[np.uint8], late: int) -> None:
        """New edges; `late` ticks are added to each. Two within one tick are one; no change is none."""
        for tick, state in zip((ticks + late).tolist(), states.tolist(), strict=True):
            if self._edges and self._edges[-1].tick == tick:
                self._edges.pop()
            if state != (self._edges[-1].state if self._edges else self.level):
                self._edges.append(_Edge(tick, state))

    def take(self, tick: int) -> list[Edges]:
        """Frames with all edges up to and including `tick`."""
        taken: list[_Edge] = []
        while self._edges and self._edges[0].tick <= tick:
            taken.append(self._edges.popleft())
        frames = []
        for at in range(0, len(taken), _EDGES_MAX):
            ticks, states = zip(*taken[at : at + _EDGES_MAX], strict=True)
            frames.append(Edges(self._number + at, ticks, bytes(states)))
        self._number += len(taken)
        if taken:
            self.level = taken[-1].state
        return frames

    def shift(self, ticks: int) -> None:
        """Let time pass in which nobody looked: one edge at least has a number and is not sent."""
        self._number += 1
        self._edges = deque(_Edge(edge.tick + ticks, edge.state) for edge in self._edges)


class PendingCounts:
    """What the counter inputs have counted: each the pulses of the source's line at its `bit`."""

    def __init__(self, inputs: tuple[InputDescription, ...], level: int, every_ticks: int, silent_ticks: int) -> None:
        """Told every `every_ticks` where it has changed, and after `silent_ticks` where it has not."""
        self._inputs = tuple(each for each in inputs if each.kind is InputKind.COUNTER)
        self._every, self._silent = every_ticks, silent_ticks
        self._level = level
        self._edges: deque[_Edge] = deque()
        self._counted = {each.index: Count(each.index, 0, 0) for each in self._inputs}
        self._told: dict[int, tuple[Count, int]] = {}  # as it was told last, and when
        self.next_tick = 0 if self._inputs else None

    def add(self, ticks: NDArray[np.int64], states: NDArray[np.uint8], late: int) -> None:
        """What the lines of the source did; `late` ticks are added to each."""
        if self._inputs:
            self._edges.extend(map(_Edge, (ticks + late).tolist(), states.tolist()))

    def take(self, tick: int) -> list[Counters]:
        """A frame of the counters to be told at `tick`, if it is time and there are any."""
        if self.next_tick is None or tick < self.next_tick:
            return []
        self.next_tick = (tick // self._every + 1) * self._every
        while self._edges and self._edges[0].tick <= tick:
            self._count(self._edges.popleft())
        due = [each for each in self._counted.values() if self._is_due(each, tick)]
        self._told |= {each.input: (each, tick) for each in due}
        return [Counters(tuple(due))] if due else []

    def _is_due(self, counted: Count, tick: int) -> bool:
        told, since = self._told.get(counted.input, (None, 0))
        return told != counted or tick - since >= self._silent

    def _count(self, edge: _Edge) -> None:
        for each in self._inputs:
            before, after = (state >> each.bit & 1 for state in (self._level, edge.state))
            if before != after == (not each.inverted):
                self._counted[each.index] = Count(each.index, self._counted[each.index].count + 1, edge.tick)
        self._level = edge.state

    def shift(self, ticks: int) -> None:
        """Let time pass in which nobody looked: nothing was counted."""
        self._edges = deque(_Edge(edge.tick + ticks, edge.state) for edge in self._edges)


class PendingSingles:
    """Samples of the uneven channels in order of their ticks."""

    def __init__(self, channels: tuple[ChannelDescription, ...]) -> None:
        self._channels = {channel.index: channel for channel in channels}
        self._numbers = dict.fromkeys(self._channels, 0)
        self._singles: deque[Single] = deque()

    @property
    def next_tick(self) -> int | None:
        return self._singles[0].tick if self._singles else None

    def add(self, values: tuple[SlowValue, ...], late: int) -> None:
        """New values; `late` ticks are added to the time of each."""
        for slow in values:
            code = int(quantise(np.array(slow.value), self._channels[slow.channel]))
            self._singles.append(Single(slow.channel, self._numbers[slow.channel], slow.tick + late, code))
            self._numbers[slow.channel] += 1

    def take(self, tick: int) -> list[Singles]:
        """Frames with all samples up to and including `tick`."""
        taken: list[Single] = []
        while self._singles and self._singles[0].tick <= tick:
            taken.append(self._singles.popleft())
        return [Singles(tuple(taken[at : at + _SINGLES_MAX])) for at in range(0, len(taken), _SINGLES_MAX)]

    def shift(self, ticks: int) -> None:
        self._singles = deque(Single(s.channel, s.number, s.tick + ticks, s.code) for s in self._singles)
