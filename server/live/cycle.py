"""Where a cycle begins and ends, and its strip. Pure.

A cycle is from one start to the next rest. The run state is told a little after the start, when the
current has been looked at; so the last rows before it are kept, and the strip begins where the current rose.
"""

import numpy as np

from server.live.strip import Strip
from server.readings import Fast

ROWS_KEPT = 200  # 2 s: more than any run state takes to be told
LOOK_BACK_S = 0.5
ROSE = 0.1  # of the largest current since: below it the motor had not been switched on yet
AFTER_REST_S = 1.0  # the strip ends this long after the motor has come to rest, so that the end is seen
_TURNING = ("starting", "running", "stalled", "coasting")


class Cycle:
    """Give it rows and run states in board time; `strip` is None until a cycle was seen to begin."""

    def __init__(self) -> None:
        self.strip: Strip | None = None
        self.state = ""
        self._over = True
        self._rows = np.empty((3, 0))  # board time, speed, current
        self._origin_s = 0.0  # board time of the strip's start
        self._last_s: float | None = None  # no row after this one belongs to the strip

    def take(self, fast: Fast) -> None:
        """Rows every 10 ms, in order."""
        rows = np.stack((fast.board_s, fast.speed_rpm, fast.current_a))
        self._rows = np.concatenate((self._rows, rows), axis=1)[:, -ROWS_KEPT:]
        self._draw(rows)

    def enter(self, state: str, board_s: float, utc_s: float) -> None:
        """The run state at a moment: board time and the same in UTC. Said again, it changes nothing."""
        if state == self.state:
            return
        # Without a speed sensor nobody knows whether it came to rest before it was switched on again.
        again = state == "starting" and self.state == "unknown" and self._before_it_rose(board_s).size > 0
        begins = again or (state in _TURNING and self._over)
        # a service that came late, or a motor whose state cannot be told, has no start: the strip begins with the rows
        if begins or (self.strip is None and state != "resting"):
            self._begin(board_s, utc_s, known=state == "starting" or self.state == "resting")
        self.state = state
        if begins or state == "resting":
            self._over = state == "resting"
            self._last_s = board_s + AFTER_REST_S if self._over else None
        if self.strip is not None:
            self.strip.enter(state, 0.0 if begins else board_s - self._origin_s)

    def restart(self, board_s: float, utc_s: float) -> None:
        """The board's time has begun anew: go on by the clock, with a gap."""
        self._rows = np.empty((3, 0))
        self._last_s = None if self._last_s is None else board_s
        if self.strip is not None:
            self._origin_s = board_s - max(utc_s - self.strip.start_utc_s, self.strip.end_s)

    def _begin(self, board_s: float, utc_s: float, known: bool) -> None:
        self._origin_s = board_s
        if known:
            low = self._before_it_rose(board_s)
            self._origin_s = float(low[-1]) if low.size else board_s
        elif self._rows.size:
            self._origin_s = float(self._rows[0, 0])
        self.strip = Strip(utc_s - (board_s - self._origin_s))
        self._last_s = None
        self._draw(self._rows)

    def _before_it_rose(self, board_s: float) -> np.ndarray:
        """Times of the rows a little before this moment in which next to no current flowed."""
        t, _, current = self._rows
        recent = (t > board_s - LOOK_BACK_S) & (t <= board_s)
        low: np.ndarray = t[recent & ~(np.abs(current) > ROSE * np.fmax.reduce(current[recent], initial=0.0))]
        return low

    def _draw(self, rows: np.ndarray) -> None:
        if self.strip is None:
            return
        drawn = rows[0] > self._origin_s + self.strip.end_s + 1e-9
        if self._last_s is not None:
            drawn &= rows[0] <= self._last_s
        t, speed, current = rows[:, drawn]
        self.strip.take(t - self._origin_s, speed, current)
