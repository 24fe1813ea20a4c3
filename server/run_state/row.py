"""What a row of 10 ms says, and the states that it may lead to. Records only."""

from dataclasses import dataclass
from enum import StrEnum

ROW_S = 0.01


class State(StrEnum):
    """Run states of a motor. `still` is told as unknown: no current, but whether the shaft turns is not known."""

    RESTING = "resting"
    STARTING = "starting"
    RUNNING = "running"
    STALLED = "stalled"
    COASTING = "coasting"
    UNKNOWN = "unknown"
    STILL = "still"

    @property
    def definite(self) -> bool:
        return self is not State.UNKNOWN and self is not State.STILL


@dataclass(slots=True)
class Row:
    """10 ms: current and voltage (RMS; direct: mean of the magnitude), speed, its bound, and how many edges came.

    The bound is the highest speed that the time since the last edge allows. `volts`, `bound_rpm` None: not measured.
    `rpm` NaN: not known yet. `whole`: nothing is missing in this row. `sure`: the bound is by an edge that came, or so
    low that it does not matter; else it counts from the last moment at which an edge may have been missed.
    """

    amps: float
    volts: float | None
    rpm: float
    bound_rpm: float | None
    edges: int
    whole: bool
    sure: bool

    @property
    def slower(self) -> float:
        """What the shaft turns at most, in r/min; 0 where nothing is measured."""
        return 0.0 if self.bound_rpm is None else self.bound_rpm
