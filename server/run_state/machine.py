"""The run state, one row of 10 ms after another. Pure; knows no window and no wire.

Every condition that leads into a definite state from all others asks only for rows that the machine has seen itself,
and these conditions exclude each other row by row. So a machine that begins in the middle reaches, if it reaches a
definite state, the one that a machine has which saw everything: this is what makes a state certain again after a gap.
"""

from collections import deque
from dataclasses import dataclass, field
from math import inf

from server.run_state.dating import Moments
from server.run_state.levels import STALL_LEFT, STALL_VOLTAGE, Levels
from server.run_state.row import ROW_S, Row, State

QUIET_ROWS = 2  # 20 ms without current: one lost half cycle is no rest
QUIET_ROWS_FOLLOWING = 20  # a drive that follows something lets its current pass zero
REST_ROWS = 5  # and before that an edge has been late for as long as the stopped speed takes
REST_ROWS_UNSEEN = 1000  # without a speed sensor: by then a shaft is taken to have stopped
SETTLED_ROWS_AC, SETTLED_ROWS_DC = 20, 10  # ten cycles of 50 Hz; 0.1 s or a turn. Compared with as many before them
SETTLED_ROWS_MAX = 50
SETTLED_SHARE = 0.03
SETTLED_FLOOR = 0.005  # of the plate current: less is noise
STALL_ROWS = 50  # after running: with the current of a held rotor and no edge
STALL_ROWS_STANDING = 10  # after running, once the shaft is known to stand
STALL_ROWS_FROM_START = 150  # else; before that the first moments of a start look like it
FELL_ROWS = 20  # of a stall: once its current has fallen, two edges of a quick motor come within so many
FED_ROWS = 20  # with a current that the plate makes too small to be one
LOST_ROWS = 60  # without speed evidence, nor stalled: longer than a stall takes to be told


@dataclass(slots=True)
class Machine:
    """Where the motor is, since which row, and for how many rows in turn each witness has said the same thing."""

    levels: Levels
    state: State = State.UNKNOWN
    reason: str = "not enough was seen yet"
    rows: int = 0  # since this state was told
    since: int = 1  # number of the first row of this state; it may have been told later
    give: int = 0  # and by so many rows it may have been another
    quiet: int = 0  # without current
    quiet_edges: int = 0  # that came meanwhile
    fed: int = 0  # with a current that stands out, at the supply's voltage, but too small by the plate
    rest: int = 0  # without current, speed and EMF
    turning: int = 0  # with current and speed, in the same direction
    lost: int = 0  # with current, without speed
    fell: int = 0  # with current, but less than that of a held rotor
    held: int = 0  # with the current of a held rotor, without an edge
    sign: int = 0  # of the speed
    recent: deque[tuple[float, float]] = field(default_factory=deque)  # current and speed, for `_settled`
    moments: Moments = field(default_factory=Moments)

    def take(self, row: Row) -> None:
        """Go on by one row. One with something missing changes no state and breaks every witness."""
        before, moments = self.state, self.moments
        moments.row += 1
        if row.whole:
            turned = self._witness(row)
            self.state, self.reason = self._next(row, turned)
        else:
            self.quiet = self.quiet_edges = self.fed = self.rest = self.turning = self.lost = self.fell = self.held = (
                self.sign
            ) = 0
            self.recent.clear()
            moments.gap()
        if self.state is not before:
            self._enter(before, row)
        elif self.state is State.STARTING:
            moments.start.append(abs(row.rpm))
        self.rows = self.rows + 1 if self.state is before else 0

    def _enter(self, before: State, row: Row) -> None:
        """Since when the state holds that this row told."""
        settled = 2 * self._settled_rows(row) if before is State.STARTING else self.turning
        unseen = row.bound_rpm is None
        self.since = self.moments.began(before, self.state, self.quiet, self.held, settled, unseen)
        self.give = self.moments.step if self.state is State.RESTING and before is State.COASTING else 0
        self.moments.start = [abs(row.rpm)] if self.state is State.STARTING else []

    def _witness(self, row: Row) -> bool:
        """Count what this row says; True if the direction has turned."""
        levels = self.levels
        draws = row.amps >= levels.quiet_a
        fed = not draws and row.volts is not None and row.volts >= levels.fed_v and row.amps >= levels.told_a
        self.fed = self.fed + 1 if fed else 0
        flows = draws or fed
        self.quiet = 0 if flows else self.quiet + 1
        self.quiet_edges = 0 if flows else self.quiet_edges + row.edges
        loud = flows or self._emf(row, levels.emf_quiet_v)
        self.rest = self.rest + 1 if not loud and row.slower < levels.stopped_rpm else 0
        if loud:
            self.moments.loud = self.moments.row
        if row.edges:
            self.moments.turned(row.edges)
        self.held = self.held + 1 if self._held(row) else 0
        fell = draws and row.amps < STALL_LEFT * self._scaled(row, levels.stall_a)
        self.fell = self.fell + 1 if fell else 0
        turns = draws and self._turns(row)
        self.lost = 0 if turns or not draws else self.lost + 1
        sign = 0 if not turns or row.bound_rpm is None else 1 if row.rpm > 0 else -1
        turned = self.sign * sign < 0
        self.turning = 0 if not turns else 1 if turned else self.turning + 1
        self.sign = sign or self.sign
        self.recent.append((row.amps, abs(row.rpm)))
        if len(self.recent) > 2 * SETTLED_ROWS_MAX:
            self.recent.popleft()
        return turned

    def _next(self, row: Row, turned: bool) -> tuple[State, str]:
        state, levels = self.state, self.levels
        quiet = self.quiet >= (QUIET_ROWS if levels.stall_a < inf else QUIET_ROWS_FOLLOWING)
        unseen = row.bound_rpm is None
        moves = not unseen and abs(row.rpm) >= 2 * levels.stopped_rpm
        # From every state:
        if self.rest >= (REST_ROWS_UNSEEN if unseen else REST_ROWS):
            return State.RESTING, ""
        if quiet and (self._own_emf(row) or (moves and self.quiet_edges)):
            return State.COASTING, self._overdue(row)
        if self._settled(row):
            return State.RUNNING, ""
        if self.held >= self._stall_rows(row) and row.slower < levels.stall_rpm:
            return State.STALLED, levels.stall_doubt
        if self.fed >= FED_ROWS:
            return State.UNKNOWN, levels.plate_doubt
        # From this one:
        if quiet:
            return self._without_current(row, moves)
        if state in (State.RESTING, State.COASTING, State.STILL):
            return (State.STARTING, "") if row.amps > levels.loud_a else (state, self.reason)
        return self._with_current(row, turned)

    def _stall_rows(self, row: Row) -> int:
        if self.held < STALL_ROWS_STANDING:  # nearly always
            return STALL_ROWS
        if self.state not in (State.RUNNING, State.STALLED):
            return STALL_ROWS_FROM_START
        return STALL_ROWS_STANDING if self._stands(row) else STALL_ROWS

    def _stands(self, row: Row) -> bool:
        """It is known to stand."""
        return row.bound_rpm is not None and row.bound_rpm < self.levels.stopped_rpm

    def _without_current(self, row: Row, moves: bool) -> tuple[State, str]:
        state, unseen = self.state, row.bound_rpm is None
        if (state in (State.RUNNING, State.STARTING) and moves) or (state is State.COASTING and not unseen):
            return State.COASTING, self._overdue(row)
        if state is State.STALLED:
            seen = "there is no speed sensor" if unseen else "no edge came since"
            return State.RESTING, f"it was held until its current ended: {seen}"
        if state is State.RESTING:
            return state, self.reason
        why = "there is no speed sensor" if unseen else "the last edge is too recent"
        return State.STILL, f"whether the shaft still turns is not known: {why}"

    def _overdue(self, row: Row) -> str:
        """Why it may not coast any more."""
        if row.bound_rpm is None or not self.moments.overdue:
            return ""
        return "the next edge is overdue: it was braked, or stands"

    def _with_current(self, row: Row, turned: bool) -> tuple[State, str]:
        state, turns = self.state, self._turns(row)
        if state is State.STALLED and turns:
            return State.STARTING, ""
        if state is State.STALLED and self.fell >= FELL_ROWS:
            return State.UNKNOWN, "the current of the held rotor fell, but no speed came"
        if state is State.RUNNING and turned:
            return State.STARTING, ""
        stands = not self.held and not self.quiet and self._stands(row)
        if state is State.RUNNING and (stands or self.lost >= LOST_ROWS):
            return State.UNKNOWN, self.levels.lost_because
        if state is State.STARTING and self.lost >= LOST_ROWS and not self._current_tells(row):
            return State.UNKNOWN, self.levels.lost_because
        if state is State.STARTING and (self.rows + 1) * ROW_S >= self.levels.start_limit_s:
            if turns:
                return State.RUNNING, ""
            return State.UNKNOWN, f"the start did not end within {self.levels.start_limit_s:g} s"
        return state, self.reason

    def _current_tells(self, row: Row) -> bool:
        """A current without speed is that of a start, or of a held rotor: there is a level for it, or a sensor."""
        return self.levels.stall_a < inf and (row.bound_rpm is not None or self.levels.run_a > 0)

    def _emf(self, row: Row, level_v: float | None) -> bool:
        """The terminals show the motor's own EMF: a voltage, but less than the supply's."""
        supply_v = self.levels.supply_v
        if row.volts is None or level_v is None or supply_v is None:
            return False
        return level_v < row.volts < supply_v

    def _own_emf(self, row: Row) -> bool:
        """An EMF that only a turning shaft has: it is in proportion to the speed."""
        turns = row.bound_rpm is None or row.bound_rpm >= self.levels.stall_rpm
        return turns and self._emf(row, self.levels.emf_loud_v)

    def _scaled(self, row: Row, amps: float) -> float:
        """A current at the plate voltage, at the voltage of this row."""
        rated_v = self.levels.rated_v
        return amps if row.volts is None or rated_v is None else amps * row.volts / rated_v

    def _held(self, row: Row) -> bool:
        levels = self.levels
        if row.bound_rpm is None and not levels.run_a:
            return False
        if row.volts is not None and levels.rated_v is not None and row.volts < STALL_VOLTAGE * levels.rated_v:
            return False
        return not row.edges and row.amps >= self._scaled(row, levels.stall_a)

    def _turns(self, row: Row) -> bool:
        if row.bound_rpm is None:
            return row.amps < self._scaled(row, self.levels.run_a)
        if self.levels.stall_a == inf and self.moments.overdue:
            return False  # it may be held still on purpose at any moment
        return abs(row.rpm) >= self.levels.stall_rpm

    def _settled(self, row: Row) -> bool:
        """Means of the last rows are those of as many before, while the shaft turned one way.

        Of the current, and of the speed where it is measured: a drive's ramp holds the current and not the speed.
        """
        n = self._settled_rows(row)
        if self.state is State.RUNNING or self.turning < 2 * n:
            return self.turning >= 2 * n
        amps, rpm = zip(*list(self.recent)[-2 * n :], strict=True)
        if not _level(amps, n, SETTLED_FLOOR * self.levels.rated_a):
            return False
        return row.bound_rpm is None or _level(rpm, n, self.levels.stopped_rpm)

    def _settled_rows(self, row: Row) -> int:
        if self.levels.alternating:
            return SETTLED_ROWS_AC
        turn = 60.0 / (ROW_S * abs(row.rpm)) if abs(row.rpm) > 0 else 0.0
        return round(min(max(SETTLED_ROWS_DC, turn), SETTLED_ROWS_MAX))


def _level(values: tuple[float, ...], n: int, floor: float) -> bool:
    """The mean of the last `n` of 2 n values is that of the first, within SETTLED_SHARE or the floor."""
    before, now = sum(values[:n]) / n, sum(values[n:]) / n
    return abs(now - before) <= max(SETTLED_SHARE * now, floor)
