"""A short stretch of a run about one moment, as it is laid on another: rows of current and speed, switch, power.

Pure: it is given outputs of a pipeline that began a little before. Its size is bounded by the stretch.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np

from server.duty.cycle import Figure
from server.duty.going import TIME_HALF_S
from server.duty.steady import Mean
from server.events.auxiliary import PLACE
from server.pipeline import Output
from server.readings import Confidence, Event, Instant, Reading
from server.runs.overview import rounded

ROW_S = 0.01
MATCH_S = 1.0  # an event that is told again from other windows lies that near its place
SEEN_S = 8.0  # behind the moment: so long a switch or a steady run is waited for
RAN_S = 2.0  # from the first window in which it ran: their mean is its power, before it is loaded by a person
_SWITCH, _POWER = "auxiliary", "active_power_w"
_ROWS_MAX = 4000  # 40 s: more than is ever asked for


@dataclass(frozen=True, slots=True)
class Wanted:
    """`kind`: of the event at `at_utc_s` that the rows are counted from; `before_s`, `after_s`: how much round it."""

    kind: str
    at_utc_s: float
    before_s: float
    after_s: float

    @property
    def to_utc_s(self) -> float:
        """What comes later is not needed: the power has been measured, and a start is told up to 2 s late."""
        return self.at_utc_s + max(self.after_s, SEEN_S) + RAN_S


class Stretch:
    """Give it each output; `record()` is ready for JSON."""

    def __init__(self, wanted: Wanted) -> None:
        self._wanted = wanted
        self._rows: list[tuple[float, float, float]] = []  # board time, current, speed
        self._events: list[Event] = []
        self._power: list[tuple[float, Reading]] = []  # of windows in which it ran
        self._synchronous_rpm: float | None = None
        self._zero_s: float | None = None
        self._near_s = MATCH_S
        self._has_auxiliary = False

    def take(self, part: Output) -> None:
        """One part of what a push brought; parts of earlier starts of the board each for itself."""
        wanted = self._wanted
        if part.anew and self._zero_s is None:
            self._rows.clear()
            self._events.clear()
            self._power.clear()
        for channel in part.channels or (part.described.channels if part.described is not None else ()):
            self._has_auxiliary |= channel.place.casefold() == PLACE
        for event in part.events:
            self._events.append(event)
            off_s = abs(part.clock.utc_s(event.board_s) - wanted.at_utc_s)
            if event.kind == wanted.kind and off_s <= self._near_s:
                self._near_s, self._zero_s = off_s, event.board_s
        for instant in part.instants:
            self._take_instant(instant)
        for fast in part.fast:
            if not fast.board_s.size:
                continue
            first_s, first_utc_s = float(fast.board_s[0]), part.clock.utc_s(float(fast.board_s[0]))
            if self._zero_s is None and first_utc_s + fast.board_s[-1] - first_s >= wanted.at_utc_s + MATCH_S:
                self._zero_s = first_s + wanted.at_utc_s - first_utc_s  # no such event was told again
            if len(self._rows) < _ROWS_MAX and first_utc_s > wanted.at_utc_s - wanted.before_s - 2.0 * MATCH_S:
                rows = zip(fast.board_s.tolist(), fast.current_a.tolist(), fast.speed_rpm.tolist(), strict=True)
                self._rows += rows

    def _take_instant(self, instant: Instant) -> None:
        by_id = {each.id: each for each in instant.readings}
        state, speed = by_id.get("run_state"), by_id.get("synchronous_speed_rpm")
        if state is None or state.value != "running":
            return
        if speed is not None and speed.confidence is Confidence.GOOD and isinstance(speed.value, float):
            self._synchronous_rpm = speed.value
        power = by_id.get(_POWER) or next((each for each in instant.readings if each.key == _POWER), None)
        if power is not None:
            self._power.append((instant.board_s, power))

    def record(self) -> dict[str, Any]:
        """Rows from `before_s` before the moment on; null where none came. Figures as [value, half, reason]."""
        zero_s, wanted = self._zero_s, self._wanted
        count = round((wanted.before_s + wanted.after_s) / ROW_S)
        current, speed = np.full(count, np.nan), np.full(count, np.nan)
        for row_s, current_a, speed_rpm in self._rows:
            if zero_s is None:
                break
            place = int(np.floor((row_s - zero_s + wanted.before_s) / ROW_S + 1e-6))
            if 0 <= place < count:
                current[place], speed[place] = current_a, speed_rpm
        return {
            "from_s": -wanted.before_s,
            "step_s": ROW_S,
            "current_a": rounded(current),
            "speed_rpm": rounded(speed),
            "synchronous_rpm": self._synchronous_rpm,
            "switch_s": _told(self._switch(zero_s)),
            "power_w": _told(self._mean_power(zero_s)),
        }

    def _switch(self, zero_s: float | None) -> Figure:
        """From the moment until the auxiliary winding lost its current."""
        if not self._has_auxiliary:
            return Figure(None, reason="no channel measures the auxiliary current")
        for event in self._events:
            ended = event.kind == _SWITCH and event.text.endswith("to zero")
            if ended and zero_s is not None and event.board_s >= zero_s:
                return Figure(event.board_s - zero_s, TIME_HALF_S)
        return Figure(None, reason=f"the auxiliary current did not end within {SEEN_S:g} s")

    def _mean_power(self, zero_s: float | None) -> Figure:
        mean, behind = Mean(), [each for each in self._power if zero_s is not None and each[0] > zero_s]
        for end_s, power in behind:
            if end_s <= behind[0][0] + RAN_S:
                mean = mean.take(power)
        return mean.figure()


def _told(figure: Figure) -> list[Any]:
    return [figure.value, figure.half, figure.reason]
