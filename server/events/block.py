"""What a detector looks at: one window with all that was computed of it. Records only."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, TypeAlias

from server.config import Plate
from server.motors import MotorType, Supply
from server.readings import Confidence, Event, Fast, Reading, StateChange
from server.samples import Samples
from server.wiring.following import Fresh

UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Block:
    """The window of the motor's main group. `states[k]` is the run state (as written) after row k of `fast`.

    `voltage`, `current`: the main channels by their place in the window, None where there is none.
    `gap_s`: nothing came for so long before this window. `turned`: what three Hall inputs brought. `edges_per_turn`: of
    the inputs that tell the speed of the rows; 0: there are none.
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
    turned: Fresh | None = None
    edges_per_turn: int = 0

    @property
    def board_s(self) -> float:
        """Board time at the end of the window."""
        return self.window.end_tick / self.window.tick_hz

    @property
    def alternating(self) -> bool:
        """The motor's type says that its supply alternates."""
        return self.motor is not None and self.motor.supply is Supply.ALTERNATING

    @property
    def bridged(self) -> bool:
        """A bridge makes the main voltage as it likes: that it comes or goes says nothing of the power."""
        return self.motor is not None and self.motor.holds and not self.alternating

    def value(self, key: str) -> float | None:
        """A reading that is a number, good or doubtful; None if it is absent or there is none."""
        reading = next((each for each in self.readings if each.key == key and not each.place), None)
        return float(reading.value) if reading is not None and isinstance(reading.value, float | int) else None

    def doubtful(self, key: str) -> bool:
        """There is this reading, and it is not good."""
        return any(each.key == key and each.confidence is not Confidence.GOOD for each in self.readings)

    def turns(self, before: str) -> Iterator[tuple[StateChange, str]]:
        """Each change of the run state, and from what; `before`: the last known one, or empty.

        Not knowing is no state: running, unknown, running is no change.
        """
        for change in self.fast.changes if self.fast is not None else ():
            if change.state not in (before, UNKNOWN):
                yield change, before
                before = change.state

    def last_state(self, before: str) -> str:
        """The last known state after this block."""
        return next((state for state in reversed(self.states) if state != UNKNOWN), before)

    def told_row(self, change: StateChange) -> int:
        """The row that told it."""
        assert self.fast is not None
        return int((self.fast.board_s >= change.told_s).argmax())


State: TypeAlias = Any  # each detector has its own; it starts as None
Step: TypeAlias = Callable[[State, Block], tuple[State, list[Event]]]


@dataclass(frozen=True, slots=True)
class Detector:
    """One kind of event: `step(state, block)` gives the next state and what happened in the block."""

    kind: str
    step: Step
