"""Sources and helpers for tests of the board: made signals whose every value is known."""

from collections.abc import Sequence
from fractions import Fraction

import numpy as np

from firmware_protocol import ChannelDescription, Decoder, InputDescription, InputKind, Message, Received, Role
from firmware_protocol import Samples as SamplesMessage
from firmware_protocol import Source as SourceKind
from simulator.motors.motor import Motor, Trace
from simulator.source import About, Happening, SlowValue, Stretch, samples_before

TICK_HZ = 1_000_000


def channel(index: int = 0, group: int = 0, ticks: Fraction | int = 50) -> ChannelDescription:
    """A channel whose value is its code."""
    return ChannelDescription(
        index, Role.OTHER, f"c{index}", "", "", 1.0, 0.0, -32_767, 32_767, group=group, ticks_per_sample=Fraction(ticks)
    )


class Counting:
    """Even channels that count: sample k of channel c is (k + 100 c) mod 30000. Edges at given ticks."""

    def __init__(
        self,
        channels: Sequence[ChannelDescription] = (channel(),),
        edge_ticks: Sequence[int] = (),
        end_tick: int | None = None,
    ) -> None:
        self.about = About(SourceKind.PLAYER, "counting", tick_hz=TICK_HZ)
        self.channels = tuple(channels)
        self.inputs: tuple[InputDescription, ...] = (InputDescription(0, InputKind.PULSE, "pulse", 0, 1),)
        self.levels = 0
        self.end_tick = end_tick
        self.sample_sets = None if end_tick is None else (samples_before(end_tick, self.channels[0]),)
        self._edges = np.array(edge_ticks, dtype=np.int64)
        self.asked: list[tuple[int, int]] = []

    def power_up(self, tick_s: float) -> None:
        assert tick_s == 1e-6

    def advance(self, first_tick: int, end_tick: int) -> Stretch:
        self.asked.append((first_tick, end_tick))
        groups = []
        for number in sorted({one.group for one in self.channels if one.group is not None}):
            members = [one for one in self.channels if one.group == number]
            k = np.arange(samples_before(first_tick, members[0]), samples_before(end_tick, members[0]))
            if self.sample_sets is not None:
                k = k[k < self.sample_sets[number]]
            groups.append(np.array([(k + 100.0 * one.index) % 30_000 for one in members]))
        slow = tuple(
            SlowValue(one.index, tick, float(tick // 100_000))
            for tick in range(-(-first_tick // 100_000) * 100_000, end_tick, 100_000)
            for one in self.channels
            if one.group is None
        )
        here = (self._edges >= first_tick) & (self._edges < end_tick)
        states = (np.flatnonzero(here) + 1) % 2
        happenings = (Happening(0.0, "counting", "begun", 1.0),) if first_tick == 0 else ()
        return Stretch(tuple(groups), slow, self._edges[here], states.astype(np.uint8), happenings)


class Still(Motor):
    """A motor that stands still and takes every control: only what a story does is of interest."""

    def advance(self, samples: int) -> Trace:
        row = np.zeros(samples)
        values, truths = (np.zeros((len(names), samples)) for names in (self.model.signals, self.model.truths))
        return Trace(values, row, row, row, truths, np.zeros(0), np.zeros(0, np.uint8))


def messages(data: bytes) -> list[Message]:
    """All messages of a stream that must be whole and undamaged."""
    found = Decoder().feed(data)
    assert all(isinstance(one, Received) for one in found), [one for one in found if not isinstance(one, Received)]
    return [one.message for one in found if isinstance(one, Received)]


def codes_of(block: SamplesMessage) -> "np.ndarray[tuple[int, ...], np.dtype[np.int16]]":
    """The codes of a block, (sets, channels), read as SPEC.md tells it."""
    words = np.frombuffer(block.words, dtype="<u2") ^ 0x8080
    return words.astype("<u2").view("<i2").reshape(-1, block.channels)
