"""What a detector looks at: one window with all that was computed of it. Records only."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, TypeAlias

from server.config import Plate
from server.motors import MotorType, Supply
from server.readings import Event, Fast, Reading
from server.samples import Samples

UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Block:
    """The window of the motor's main group. `states[k]` is the run state (as written) after row k of `fast`.

    `voltage`, `current`: the main channels by their place in the window, None where there is none.
    `gap_s`: nothing came for so long before this window.
    """

    window: Samples
    voltage: int | None
    current: int | None
    fast: Fast | None
    states: tuple[str, ...]
    readings: tuple[Reading, ...]
    motor: MotorType | None
    plate: Plate
    gap_s: float = 0.0

    @property
    def board_s(self) -> float:
        """Board time at the end of the window."""
        return self.window.end_tick / self.window.tick_hz

    @property
    def alternating(self) -> bool:
        """The motor's type says that its supply alternates."""
        return self.motor is not None and self.motor.supply is Supply.ALTERNATING

    def value(self, key: str) -> float | None:
        """A reading that is a number, good or doubtful; None if it is absent or there is none."""
        reading = next((each for each in self.readings if each.key == key and not each.place), None)
        return float(reading.value) if reading is not None and isinstance(reading.value, float | int) else None

    def turns(self, before: str) -> Iterator[tuple[float, str, str]]:
        """Board time of each change of the run state, from what to what; `before`: the last known one, or empty.

        Not knowing is no state: running, unknown, running is no change.
        """
        if self.fast is None:
            return
        for board_s, state in zip(self.fast.board_s.tolist(), self.states, strict=False):
            if state not in (before, UNKNOWN):
                yield board_s, before, state
                before = state

    def last_state(self, before: str) -> str:
        """The last known state after this block."""
        return next((state for state in reversed(self.states) if state != UNKNOWN), before)


State: TypeAlias = Any  # each detector has its own; it starts as None
Step: TypeAlias = Callable[[State, Block], tuple[State, list[Event]]]


@dataclass(frozen=True, slots=True)
class Detector:
    """One kind of event: `step(state, block)` gives the next state and what happened in the block."""

    kind: str
    step: Step
