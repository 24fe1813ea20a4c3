"""Since which row a state holds that took many rows to be told. Pure.

A state is told when its witnesses have said the same for long enough; what they speak of began before that. Rows are
counted from 1; nothing is dated before the last gap.
"""

from dataclasses import dataclass, field
from math import isnan

from server.readings import UP_TO_SPEED
from server.run_state.row import State

_LAST_ROWS = 20  # the settled end of a start
OVERDUE = 3  # a shaft that is braked to a third within one interval between edges does not coast
_PAUSE_ROWS = 50  # an edge that comes later than this after the one before begins a movement of its own


@dataclass(slots=True)
class Moments:
    """Numbers of rows at which something was seen. None: not since the last gap.

    `row`: this one; `broken`: the last with something missing; `loud`: the last with current or EMF; `edge`: the last
    with an edge, `step` rows after the one before it; `moves`: the first edge of the movement that goes on;
    `start`: magnitudes of the speed, row by row, since the last start was told.
    """

    row: int = 0
    broken: int = 0
    loud: int = 0
    edge: int | None = None
    step: int = 0
    moves: int | None = None
    start: list[float] = field(default_factory=list)

    def turned(self, edges: int) -> None:
        """So many edges came in this row."""
        pause = None if self.edge is None else self.row - self.edge
        if pause is None or pause > _PAUSE_ROWS:
            self.moves = self.row
        self.edge, self.step = self.row, 1 if edges > 1 else pause or 1

    @property
    def overdue(self) -> bool:
        """The next edge takes OVERDUE times as long as the last one did, or how long that was is not known."""
        return self.edge is None or self.row - self.edge > OVERDUE * self.step

    def gap(self) -> None:
        """Something is missing in this row."""
        self.broken = self.loud = self.row
        self.edge = self.moves = None
        self.start.clear()

    def began(self, before: State, now: State, quiet: int, held: int, settled: int, unseen: bool) -> int:
        """The number of the first row of the state `now`, told in this row.

        For so many rows in turn, this one included: `quiet` without current, `held` with that of a held rotor,
        `settled` at a level (0: not). `unseen`: no input gives a speed.
        """
        at = self.row
        if now is State.COASTING:
            at = self.row - quiet + 1 if before in (State.RUNNING, State.STARTING) else self._moved()
        elif now is State.RESTING:
            at = self.row if unseen and before is not State.STALLED else self._stood(before)
        elif now is State.STALLED:
            at = self.row - held + 1
        elif now is State.STARTING and before is State.STALLED:
            at = self._moved()
        elif now is State.RUNNING and settled:
            at = self._up_to_speed(settled) if before is State.STARTING else self.row - settled + 1
        return max(at, self.broken + 1)

    def _moved(self) -> int:
        return self.row if self.moves is None else self.moves

    def _stood(self, before: State) -> int:
        """Behind the last current and EMF; and after the last edge a shaft goes on for about as long as before it."""
        if before is State.STALLED or self.edge is None:
            return self.loud + 1
        return max(self.loud + 1, min(self.edge + self.step, self.row))

    def _up_to_speed(self, settled: int) -> int:
        """By the speed where it is known; else by when it settled."""
        rows = len(self.start)
        last = self.start[-_LAST_ROWS:]
        rpm = UP_TO_SPEED * sum(last) / len(last) if last else float("nan")
        if isnan(rpm):
            return max(self.row - settled + 1, self.row - rows)
        return self.row - rows + next((k for k, each in enumerate(self.start) if each >= rpm), rows)
