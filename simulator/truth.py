"""Ground truth of a story: what really happened, for tests and for the person who learns. Never on the wire.

Rows of kind `story`, `control`, `faults`, `contact` (a truth of the model that is 0 or 1 has changed), `state` and
`series` (every 10 ms: mean speed, and torque and the model's truths of that moment). The true run state is taken from
the shaft and the line switch, not from any signal:

    resting   off and below 5 r/min              coasting  off and turning
    stalled   on and below 5 r/min for 0.2 s     holding   the same where it is not asked to turn: a stepper at rest
    running   on and turning, settled once       starting  on, until the speed has settled once since it was last slow:
                                                           the 0.1 s mean within 2 % of the one 0.2 s before

On is what has current to turn with: the line switch, and a cut-out or contact in the line, are closed.
"""

from collections.abc import Iterator, Mapping

import numpy as np

from simulator.motors.motor import Model, Trace
from simulator.source import TruthRow

ROW_S = 0.01
STOPPED_RPM = 5.0
STALLED_S = 0.2
IN_THE_LINE = ("cutout_closed", "line_closed")
_SETTLED, _MEANS = 0.02, 10  # share; rows of one mean


class Truth:
    """Feed it what a motor of this type did, in turn; it gives the rows."""

    def __init__(self, model: Model, rate_hz: float) -> None:
        self._truths, self._asked = model.truths, model.asked
        self._line = [n for n, name in enumerate(model.truths) if name in IN_THE_LINE]
        self._every = max(1, round(ROW_S * rate_hz))
        self._rate_hz = rate_hz
        self._contacts: dict[str, float] = {}
        self._state = ""
        self._rpm: list[float] = []
        self._slow_rows, self._was_asked = 0, False
        self._angle_rad: float | None = None
        self._settled = False

    def rows(self, first_sample: int, trace: Trace, controls: Mapping[str, float]) -> Iterator[TruthRow]:
        """Rows of one stretch; its first sample is number `first_sample` since the motor was made."""
        yield from self._contact_rows(first_sample, trace)
        begin = -first_sample % self._every
        for k in range(begin, trace.speed_rad_s.shape[0], self._every):
            board_s = (first_sample + k) / self._rate_hz
            rpm = self._mean_rpm(float(trace.angle_rad[k]))
            on = controls["supply_on"] > 0 and bool(np.all(trace.truths[self._line, k]))
            asked = controls["jammed"] > 0 or self._asked(controls)
            yield from self._state_row(board_s, rpm, on, asked)
            truths = {name: float(trace.truths[n, k]) for n, name in enumerate(self._truths)}
            yield TruthRow(board_s, "series", {"speed_rpm": rpm, "torque_n_m": float(trace.torque_n_m[k]), **truths})

    def _mean_rpm(self, angle_rad: float) -> float:
        """Since the row before: torque that pulsates with the mains, or steps, would always find the same moment."""
        turned_rad = 0.0 if self._angle_rad is None else angle_rad - self._angle_rad
        self._angle_rad = angle_rad
        return float(turned_rad / ROW_S * 30 / np.pi)

    def _contact_rows(self, first_sample: int, trace: Trace) -> Iterator[TruthRow]:
        for n, name in enumerate(self._truths):
            if not name.endswith("_closed"):
                continue
            row = trace.truths[n]
            before = np.concatenate(([self._contacts.get(name, row[0])], row[:-1]))
            for k in np.flatnonzero(row != before):
                yield TruthRow((first_sample + int(k)) / self._rate_hz, "contact", {"name": name, "value": row[k]})
            self._contacts[name] = float(row[-1])

    def _state_row(self, board_s: float, rpm: float, on: bool, asked: bool) -> Iterator[TruthRow]:
        self._rpm = [*self._rpm[-3 * _MEANS + 1 :], abs(rpm)]
        slow = abs(rpm) < STOPPED_RPM
        begun = asked and not self._was_asked
        self._was_asked = asked
        self._slow_rows = self._slow_rows + 1 if slow and on and not begun else 0
        if not on or self._slow_rows * ROW_S >= STALLED_S:
            self._settled = False
        elif len(self._rpm) == 3 * _MEANS and min(self._rpm) >= STOPPED_RPM:
            before, now = np.mean(self._rpm[:_MEANS]), np.mean(self._rpm[-_MEANS:])
            self._settled |= bool(abs(now - before) < _SETTLED * now)
        state = self._named(slow, on, asked)
        if state != self._state:
            self._state = state
            yield TruthRow(board_s, "state", {"state": state})

    def _named(self, slow: bool, on: bool, asked: bool) -> str:
        if not on:
            return "resting" if slow else "coasting"
        if slow and self._slow_rows * ROW_S >= STALLED_S:
            return "stalled" if asked else "holding"
        return "running" if self._settled else "starting"
