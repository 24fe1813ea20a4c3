"""What a detector looks at: one window with all that was computed of it. Records only."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, TypeAlias

from server.config import Plate
from server.motors import MotorType
from server.readings import Event, Fast, Reading
from server.samples import Samples


@dataclass(frozen=True, slots=True)
class Block:
    """The window of the motor's main group. `states[k]` is the run state (as written) after row k of `fast`.

    `voltage`, `current`: the main channels by their place in the window, None where there is none. `readings` by id.
    `clipped`: names of the channels that reached an end of their range.
    """

    window: Samples
    voltage: int | None
    current: int | None
    fast: Fast | None
    states: tuple[str, ...]
    readings: dict[str, Reading]
    motor: MotorType | None
    plate: Plate

    @property
    def board_s(self) -> float:
        """Board time at the end of the window."""
        return self.window.end_tick / self.window.tick_hz

    def value(self, key: str) -> float | None:
        """A reading that is a number, good or doubtful; None if it is absent or there is none."""
        reading = self.readings.get(key)
        return float(reading.value) if reading is not None and isinstance(reading.value, float | int) else None


State: TypeAlias = Any  # each detector has its own; it starts as None
Step: TypeAlias = Callable[[State, Block], tuple[State, list[Event]]]


@dataclass(frozen=True, slots=True)
class Detector:
    """One kind of event: `step(state, block)` gives the next state and what happened in the block."""

    kind: str
    step: Step
