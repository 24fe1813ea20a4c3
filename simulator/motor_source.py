"""A physical model as the source of a board: it plays stories, one after another, and knows what it did."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import cycle
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from firmware_protocol import ChannelDescription, InputDescription
from simulator.capture import Capture
from simulator.motors.motor import Disturbance, DivergedError, Motor, Trace
from simulator.source import About, Happening, Stretch, TruthRow, samples_before
from simulator.stories import Step, Story
from simulator.story_error import StoryError
from simulator.teaching import STORY, Teaching
from simulator.truth import Truth


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

    def __init__(
        self,
        about: About,
        terminals: Terminals,
        make: MotorMaker,
        stories: Sequence[Story],
        seed: int = 0,
        *,
        truth: bool = False,
        teaching: Teaching | None = None,
    ) -> None:
        self.about, self.channels, self.inputs = about, terminals.channels, terminals.inputs
        self._terminals, self._make, self._seed, self._tells = terminals, make, seed, truth
        self._rate_hz = Fraction(about.tick_hz) / terminals.ticks_per_sample
        self._stories, self._teaching, self._taught = stories, teaching, False
        self._script = _script(stories, float(self._rate_hz))
        self._next = next(self._script)
        self._story, self._step = self._next.story, self._next.step
        self._sample = 0
        self._told: dict[str, float] = {}
        self._faults: tuple[str, ...] = ()
        self.power_up(1.0 / about.tick_hz)

    def power_up(self, tick_s: float) -> None:
        """The motor lives in true time: a board with a fast clock samples it more often than it believes."""
        self._tick_s = tick_s
        rate_hz = 1.0 / (float(self._terminals.ticks_per_sample) * tick_s)
        self._motor = self._make(rate_hz=rate_hz)
        model = self._motor.model
        self._rows = [model.signals.index(signal) for signal in self._terminals.signals]
        self._capture = Capture(self._seed, self._motor.state, self.about.tick_hz * tick_s)
        self._disturbance: Disturbance | None = None
        if model.disturbance is not None:
            draw = np.random.default_rng((self._seed, 101))
            self._disturbance = model.disturbance(self._motor.parameters, rate_hz, draw)
        self._truth = Truth(model, float(self._rate_hz)) if self._tells else None

    @property
    def story(self) -> Story:
        """The story that is played now, a stretch ahead of what the board has sent."""
        return self._story

    @property
    def levels(self) -> int:
        return self._motor.state

    def advance(self, first_tick: int, end_tick: int) -> Stretch:
        """All samples and edges between the two ticks; `first_tick` is where the stretch before ended."""
        end = samples_before(end_tick, self.channels[0])
        edges: list[tuple[NDArray[np.float64], NDArray[np.uint8]]] = []
        pieces: list[NDArray[np.float64]] = []
        happenings: list[Happening] = []
        truth: list[TruthRow] = []
        self._take_turns()
        while self._sample < end:
            happenings += self._take_cues(truth)
            first, until = self._sample, min(end, self._next.sample)
            trace = self._played(until - first)
            self._sample = until
            edges.append(self._capture.seen(trace.edge_times_s, trace.edge_states, self._model_s, self._motor.controls))
            added = trace.values if self._disturbance is None else self._disturbance.add(trace, self._motor.controls)
            pieces.append(added[self._rows])
            if self._truth is not None:
                truth += self._truth.rows(first, trace, self._motor.controls)
        values = np.concatenate(pieces, axis=1)
        ticks = self._stamped(np.concatenate([times_s for times_s, _ in edges]))
        states = np.concatenate([levels for _, levels in edges])
        return Stretch((values,), (), ticks, states, tuple(happenings), tuple(truth) if self._tells else ())

    def _take_turns(self) -> None:
        """A person has begun to change things, or has gone: stories begin anew behind it."""
        if self._teaching is None or self._teaching.on == self._taught:
            return
        self._taught = self._teaching.on
        begin_s = self._sample / float(self._rate_hz)
        if self._taught:
            self._script = _as_told(self._teaching.steps(self._seed), float(self._rate_hz), begin_s)
        else:
            self._script = _script(self._stories, float(self._rate_hz), begin_s)
        self._next = next(self._script)

    def _played(self, samples: int) -> Trace:
        try:
            return self._motor.advance(samples)
        except DivergedError as error:
            where = f"{self._story.file}, line {self._step.line}" if self._story.file else self._story.name
            raise StoryError(f"{where}: after this step {error}; write milder values or larger inertia") from error

    @property
    def _model_s(self) -> float:
        """True seconds that the motor has lived."""
        return float(self._sample * self._terminals.ticks_per_sample) * self._tick_s

    def _stamped(self, times_s: NDArray[np.float64]) -> NDArray[np.int64]:
        """A capture unit writes down the tick that is running when the edge has passed the input."""
        delay_s = 1e-9 * self.inputs[0].delay_ns if self.inputs else 0.0
        return np.floor((times_s + delay_s) / self._tick_s).astype(np.int64)

    def _take_cues(self, truth: list[TruthRow]) -> Iterator[Happening]:
        """Set what the story sets now; what a control has already is no happening."""
        while self._next.sample <= self._sample:
            cue, self._next = self._next, next(self._script)
            board_s = float(cue.sample / self._rate_hz)
            self._story, self._step = cue.story, cue.step
            if cue.step.controls:
                self._motor.set(**cue.step.controls)
            if cue.first:
                self._motor.renew()
                truth.append(TruthRow(board_s, "story", {"story": cue.story.name}))
            if cue.step.faults is not None and cue.step.faults != self._faults:
                self._faults = cue.step.faults
                truth.append(TruthRow(board_s, "faults", {"faults": list(self._faults)}))
            for control, value in cue.step.controls.items():
                if self._told.get(control) != value:
                    self._told[control] = value
                    truth.append(TruthRow(board_s, "control", {"control": control, "value": value}))
                    yield Happening(board_s, cue.story.name, control, value)


@dataclass(frozen=True, slots=True)
class _Cue:
    sample: int
    story: Story
    step: Step
    first: bool


def _as_told(steps: Iterator[Step], rate_hz: float, begin_s: float) -> Iterator[_Cue]:
    """What a person has told, by sample number."""
    for number, step in enumerate(steps):
        yield _Cue(round((begin_s + step.time_s) * rate_hz), STORY, step, number == 0)


def _script(stories: Sequence[Story], rate_hz: float, begin_s: float = 0.0) -> Iterator[_Cue]:
    """The steps of all stories by sample number, for ever; they take hold from that sample on."""
    if not stories:
        raise ValueError("a motor on the bench needs at least one story")
    for story in cycle(stories):
        for number, step in enumerate(story.steps):
            yield _Cue(round((begin_s + step.time_s) * rate_hz), story, step, number == 0)
        begin_s += story.duration_s
