"""What the motor is doing: resting, starting, running, stalled, coasting, or unknown with the reason. Pure.

After a gap the state stays doubtful until what was seen since then has led a fresh machine to a definite state.
"""

from dataclasses import dataclass

from server.readings import Reading, doubtful
from server.run_state.levels import Levels, levels_of
from server.run_state.machine import Machine
from server.run_state.row import ROW_S, Row, State
from server.run_state.rows import Wanted, rows_of, wanted_of

__all__ = ["ROW_S", "Levels", "RunState", "State", "Told", "Wanted", "levels_of", "rows_of", "unknown", "wanted_of"]

_UNCONFIRMED = "not confirmed since the stream began or was last broken"


@dataclass(frozen=True, slots=True)
class Told:
    """The state after a row, why it is not certain, how many rows before this one it began, give or take how many.

    `confirmed`: what was seen since the last gap has led to a definite state."""

    state: State
    doubt: str
    age: int = 0
    give: int = 0
    confirmed: bool = True

    @property
    def word(self) -> str:
        """The state as it is told."""
        return self.state.value if self.state.definite else State.UNKNOWN.value

    @property
    def reading(self) -> Reading:
        reading = Reading("run_state", self.word)
        return doubtful(reading, self.doubt) if self.doubt else reading


def unknown(reason: str) -> Reading:
    """The reading where there is no state at all."""
    return doubtful(Reading("run_state", State.UNKNOWN.value), reason)


class RunState:
    """Of one motor with one set of levels, from the first row on."""

    def __init__(self, levels: Levels) -> None:
        self._machine = Machine(levels)
        # Began after the last gap, or at the beginning, and has not reached a definite state that is sure.
        self._fresh: Machine | None = Machine(levels)

    def take(self, row: Row) -> Told:
        levels = self._machine.levels
        self._machine.take(row)
        if not row.whole:
            self._fresh = Machine(levels)
        elif self._fresh is not None:
            self._fresh.take(row)
            if self._fresh.state.definite and row.sure:
                self._machine, self._fresh = self._fresh, None
        machine = self._machine
        doubt = machine.reason
        if self._fresh:
            doubt = f"{doubt}; {_UNCONFIRMED}" if doubt else _UNCONFIRMED
        confirmed = self._fresh is None
        return Told(machine.state, doubt, machine.moments.row - machine.since, machine.give, confirmed)
