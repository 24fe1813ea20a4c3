"""What every physical model answers: its signals, its inputs, its controls, and the next samples.

A model is a function of its controls and of time alone: nothing random, no noise, no quantising; the
board adds those. Time begins when the motor is made; sample n is taken at n / rate_hz.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from simulator.nearest import nearest
from simulator.stepping import Block


@dataclass(frozen=True, slots=True)
class Control:
    """One thing that a story can change while the motor runs; an on/off control is 0 or 1."""

    name: str
    initial: float
    lowest: float
    highest: float
    meaning: str


@dataclass(frozen=True, slots=True)
class Trace:
    """What happened over a stretch of samples.

    `values` has shape (signals, samples) in V and A at the sample instants; `speed_rad_s`, `torque_n_m`
    (air gap) and `angle_rad` (mechanical, not wrapped) have shape (samples,). `edge_times_s` (edges,) are
    seconds since the motor was made, interpolated inside the step; `edge_states` (edges,) is what the
    inputs read from that moment on. Edges reach up to the moment of the sample after the last one.
    """

    values: NDArray[np.float64]
    speed_rad_s: NDArray[np.float64]
    torque_n_m: NDArray[np.float64]
    angle_rad: NDArray[np.float64]
    edge_times_s: NDArray[np.float64]
    edge_states: NDArray[np.uint8]


class Motor(Protocol):
    """A motor with what feeds it and what it drives, seen at the points where a board's channels sit."""

    signals: tuple[str, ...]
    inputs: tuple[str, ...]  # bit k of a state is the level of inputs[k]
    controls: tuple[Control, ...]

    @property
    def state(self) -> int:
        """What the inputs read now."""

    def set(self, **controls: float) -> None:
        """Change controls from the next sample on. ValueError: unknown name or a value out of its range."""

    def advance(self, samples: int) -> Trace:
        """The next `samples` samples."""


def changed(now: Mapping[str, float], changes: Mapping[str, float], known: tuple[Control, ...]) -> dict[str, float]:
    """The controls after `changes`. ValueError names the nearest control, or the range of a value."""
    by_name = {control.name: control for control in known}
    for name, value in changes.items():
        control = by_name.get(name)
        if control is None:
            raise ValueError(f"no control {name!r}; the nearest is {nearest(name, by_name)!r}, of {', '.join(by_name)}")
        if not control.lowest <= value <= control.highest:
            raise ValueError(f"{name} = {value:g} is outside {control.lowest:g} to {control.highest:g}")
    return {**now, **{name: float(value) for name, value in changes.items()}}


def initial(known: tuple[Control, ...]) -> dict[str, float]:
    """All controls as they stand when a motor is made."""
    return {control.name: float(control.initial) for control in known}


def trace_of(block: Block) -> Trace:
    """The trace of a block's only case."""
    edges = int(block.edge_counts[0])
    return Trace(
        block.values[0],
        block.speed_rad_s[0],
        block.torque_n_m[0],
        block.angle_rad[0],
        block.edge_times_s[0, :edges],
        block.edge_states[0, :edges],
    )
