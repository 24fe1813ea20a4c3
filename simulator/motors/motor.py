"""What every type of motor gives, and one motor of a type at one sample rate.

A model is a function of its controls and of time alone: no noise, no quantising; what is random is added behind it
or, where a drive reacts to it (Hall lines), drawn from a seed that is a part of its state. Time begins when the motor
is made; sample n is taken at n / rate_hz.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from simulator.physics.control import Control, changed, initial
from simulator.physics.stepping import Block, empty_block, steps_per_sample


class DivergedError(Exception):
    """The equations ran away: parameters or controls that the step cannot follow."""


@dataclass(frozen=True, slots=True)
class Trace:
    """What happened over a stretch of samples.

    `values` has shape (signals, samples) in V and A at the sample instants; `speed_rad_s`, `torque_n_m`
    (air gap) and `angle_rad` (mechanical, not wrapped) have shape (samples,); `truths` (truths, samples).
    `edge_times_s` (edges,) are seconds since the motor was made, interpolated inside the step; `edge_states`
    (edges,) is what the inputs read from that moment on. Edges reach up to the moment of the sample after
    the last one.
    """

    values: NDArray[np.float64]
    speed_rad_s: NDArray[np.float64]
    torque_n_m: NDArray[np.float64]
    angle_rad: NDArray[np.float64]
    truths: NDArray[np.float64]
    edge_times_s: NDArray[np.float64]
    edge_states: NDArray[np.uint8]


@dataclass(frozen=True, slots=True)
class Energy:
    """Where the energy went since the motor was made, in J; `stored` is what is in it now.

    input = lost + shaft + stored, but for the integrator's error.
    """

    input: float
    lost: float
    shaft: float
    stored: float


class Disturbance(Protocol):
    """What brushes, arcs and contacts add to the terminals. It has a memory, so stretches follow one another."""

    def add(self, trace: Trace, controls: Mapping[str, float]) -> NDArray[np.float64]:
        """`trace.values` with it; the trace stays as it is."""


@dataclass(frozen=True, slots=True)
class Model:
    """One type of motor: a file of equations with its compiled loop.

    `run(cases, states, first, rate_hz, steps, values, speed, torque, angle, truths, edge_times, edge_states,
    edge_counts)` fills the arrays of a Block. `constants(parameters, controls)` is one case, (1,) records;
    `at_rest(parameters, seed)` its state, (1,) records with a field `energy_j` of three (input, lost, shaft);
    `stored_j(case, state)` what is stored in one of them; `level(case, state)` what the inputs read.
    `renewed(parameters, case, state)` sets back what a motor that has stood for long does not have any more;
    `parameter_sets` are the motors of this type that the bench has, the first one usual.
    """

    signals: tuple[str, ...]
    inputs: tuple[str, ...]  # bit k of a state is the level of inputs[k]
    truths: tuple[str, ...]  # what no channel sees: temperatures, contacts (0 or 1), errors
    controls: tuple[Control, ...]
    parameter_sets: Mapping[str, Any]
    longest_step_s: float
    run: Callable[..., None]
    constants: Callable[[Any, Mapping[str, float]], Any]
    at_rest: Callable[[Any, int], Any]
    stored_j: Callable[[Any, Any], float]
    level: Callable[[Any, Any], int]
    asked: Callable[[Mapping[str, float]], bool] = lambda controls: True  # whether it is to turn, where it is on
    usual: Callable[[Any], Mapping[str, float]] = lambda parameters: {}  # controls that follow from the parameters
    renewed: Callable[[Any, Any, Any], None] = lambda parameters, case, state: None  # see `Motor.renew`
    disturbance: Callable[[Any, float, np.random.Generator], Disturbance] | None = None


def advance(
    model: Model, cases: Any, states: Any, first: int, samples: int, rate_hz: float, steps: int | None = None
) -> Block:
    """The next `samples` samples of all cases, the first of them number `first`; changes `states`."""
    steps = steps or steps_per_sample(rate_hz, model.longest_step_s)
    block = empty_block(len(cases), len(model.signals), len(model.truths), samples, steps)
    model.run(
        cases, states, first, rate_hz, steps, block.values, block.speed_rad_s, block.torque_n_m, block.angle_rad,
        block.truths, block.edge_times_s, block.edge_states, block.edge_counts,
    )  # fmt: skip
    return block


class Motor:
    """One motor of a type, fed and loaded as its controls say, seen at the points where a board's channels sit."""

    def __init__(self, model: Model, parameters: Any = None, rate_hz: float = 20_000.0, seed: int = 0) -> None:
        self.model = model
        self.parameters = parameters if parameters is not None else next(iter(model.parameter_sets.values()))
        self.controls: dict[str, float] = {**initial(model.controls), **model.usual(self.parameters)}
        self._rate_hz, self._sample = rate_hz, 0
        self._case = model.constants(self.parameters, self.controls)
        self._state = model.at_rest(self.parameters, seed)

    @property
    def state(self) -> int:
        """What the inputs read now."""
        return self.model.level(self._case[0], self._state[0])

    @property
    def energy(self) -> Energy:
        """The balance up to now."""
        given, lost, shaft = (float(part) for part in self._state["energy_j"][0])
        return Energy(given, lost, shaft, self.model.stored_j(self._case[0], self._state[0]))

    def set(self, **controls: float) -> None:
        """Change controls from the next sample on. ValueError: unknown name or a value out of its range."""
        self.controls = changed(self.controls, controls, self.model.controls)
        self._case = self.model.constants(self.parameters, self.controls)

    def renew(self) -> None:
        """A new story begins, at rest and with its controls set: what a motor that has stood for long has lost.

        Warmth, charges and memories go, so that a story plays alike alone and after any other; what vanishes is booked
        as lost. Speed and currents stay.
        """
        self.model.renewed(self.parameters, self._case[0], self._state[0])

    def advance(self, samples: int) -> Trace:
        """The next `samples` samples. DivergedError: the equations ran away."""
        block = advance(self.model, self._case, self._state, self._sample, samples, self._rate_hz)
        if not (np.isfinite(block.speed_rad_s[0, -1:]).all() and np.isfinite(block.values[0, :, -1:]).all()):
            raise DivergedError(f"the equations ran away within {samples / self._rate_hz:g} s after {self._at_s:g} s")
        self._sample += samples
        return _trace_of(block)

    @property
    def _at_s(self) -> float:
        return self._sample / self._rate_hz


def _trace_of(block: Block) -> Trace:
    """The trace of a block's only case."""
    edges = int(block.edge_counts[0])
    return Trace(
        block.values[0],
        block.speed_rad_s[0],
        block.torque_n_m[0],
        block.angle_rad[0],
        block.truths[0],
        block.edge_times_s[0, :edges],
        block.edge_states[0, :edges],
    )
