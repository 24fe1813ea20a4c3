"""A physical model as the source of a board: it plays stories, one after another, and knows what it did."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import cycle
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from firmware_protocol import ChannelDescription, InputDescription
from simulator.motors.motor import Motor, Trace
from simulator.source import About, Happening, Stretch, samples_before
from simulator.stories import Story


class MotorMaker(Protocol):
    """Makes a motor that gives `rate_hz` samples in a true second."""

    def __call__(self, *, rate_hz: float) -> Motor: ...


@dataclass(frozen=True, slots=True)
class Terminals:
    """Which signals of the model the board's channels see, in the order of the channels, and its inputs."""

    signals: tuple[str, ...]
    channels: tuple[ChannelDescription, ...]
    inputs: tuple[InputDescription, ...]
    ticks_per_sample: Fraction


class MotorSource:
    """Plays `stories` over and over on one motor; `advance` is called with stretches that follow one another."""

    end_tick, sample_sets = None, None

    def __init__(self, about: About, terminals: Terminals, make: MotorMaker, stories: Sequence[Story]) -> None:
        self.about, self.channels, self.inputs = about, terminals.channels, terminals.inputs
        self._terminals, self._make = terminals, make
        self._rate_hz = Fraction(about.tick_hz) / terminals.ticks_per_sample
        self._script = _script(stories, float(self._rate_hz))
        self._next = next(self._script)
        self._sample = 0
        self.power_up(1.0 / about.tick_hz)

    def power_up(self, tick_s: float) -> None:
        """The motor lives in true time: a board with a fast clock samples it more often than it believes."""
        self._tick_s = tick_s
        self._motor = self._make(rate_hz=1.0 / (float(self._terminals.ticks_per_sample) * tick_s))
        self._rows = [self._motor.signals.index(signal) for signal in self._terminals.signals]

    @property
    def levels(self) -> int:
        return self._motor.state

    def advance(self, first_tick: int, end_tick: int) -> Stretch:
        """All samples and edges between the two ticks; `first_tick` is where the stretch before ended."""
        end = samples_before(end_tick, self.channels[0])
        traces: list[Trace] = []
        happenings: list[Happening] = []
        while self._sample < end:
            happenings += self._set_controls()
            until = min(end, self._next.sample)
            traces.append(self._motor.advance(until - self._sample))
            self._sample = until
        values = np.concatenate([trace.values[self._rows] for trace in traces], axis=1)
        ticks = np.concatenate([self._stamped(trace.edge_times_s) for trace in traces])
        states = np.concatenate([trace.edge_states for trace in traces])
        return Stretch((values,), (), ticks, states, tuple(happenings))

    def _stamped(self, times_s: NDArray[np.float64]) -> NDArray[np.int64]:
        """A capture unit writes down the tick that is running when the edge has passed the input."""
        delay_s = 1e-9 * self.inputs[0].delay_ns if self.inputs else 0.0
        return np.floor((times_s + delay_s) / self._tick_s).astype(np.int64)

    def _set_controls(self) -> Iterator[Happening]:
        while self._next.sample <= self._sample:
            self._motor.set(**self._next.controls)
            board_s = float(self._next.sample / self._rate_hz)
            for control, value in self._next.controls.items():
                yield Happening(board_s, self._next.story, control, value)
            self._next = next(self._script)


@dataclass(frozen=True, slots=True)
class _Cue:
    sample: int
    story: str
    controls: Mapping[str, float]


def _script(stories: Sequence[Story], rate_hz: float) -> Iterator[_Cue]:
    """The steps of all stories by sample number, for ever; they take hold from that sample on."""
    if not stories:
        raise ValueError("a motor on the bench needs at least one story")
    begin_s = 0.0
    for story in cycle(stories):
        for time_s, controls in story.steps:
            yield _Cue(round((begin_s + time_s) * rate_hz), story.name, controls)
        begin_s += story.duration_s
