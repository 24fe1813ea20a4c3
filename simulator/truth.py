"""Ground truth of a story: what really happened, for tests and for the person who learns. Never on the wire.

Rows of kind `story`, `control`, `faults`, `contact` (a truth of the model that is 0 or 1 has changed), `state` and
`series` (every 10 ms: speed, torque, and the model's truths). The true run state is taken from the shaft and the line
switch, not from any signal:

    resting   off and below 5 r/min              coasting  off and turning
    stalled   on and below 5 r/min for 0.2 s     starting  on, until the speed has settled once since it was last slow:
    running   on and turning, settled once                 the 0.1 s mean within 2 % of the one 0.2 s before
"""

from collections.abc import Iterator, Mapping

import numpy as np

from simulator.motors.motor import Trace
from simulator.source import TruthRow

ROW_S = 0.01
STOPPED_RPM = 5.0
STALLED_S = 0.2
_SETTLED, _MEANS = 0.02, 10  # share; rows of one mean


class Truth:
    """Feed it what a motor did, in turn; it gives the rows. `truths` are the names of the model's."""

    def __init__(self, truths: tuple[str, ...], rate_hz: float) -> None:
        self._truths = truths
        self._every = max(1, round(ROW_S * rate_hz))
        self._rate_hz = rate_hz
        self._contacts: dict[str, float] = {}
        self._state = ""
        self._rpm: list[float] = []
        self._slow_rows = 0
        self._settled = False

    def rows(self, first_sample: int, trace: Trace, controls: Mapping[str, float]) -> Iterator[TruthRow]:
        """Rows of one stretch; its first sample is number `first_sample` since the motor was made."""
        yield from self._contact_rows(first_sample, trace)
        begin = -first_sample % self._every
        for k in range(begin, trace.speed_rad_s.shape[0], self._every):
            board_s = (first_sample + k) / self._rate_hz
            rpm = float(trace.speed_rad_s[k] * 30 / np.pi)
            yield from self._state_row(board_s, rpm, controls.get("supply_on", 0) > 0)
            truths = {name: float(trace.truths[n, k]) for n, name in enumerate(self._truths)}
            yield TruthRow(board_s, "series", {"speed_rpm": rpm, "torque_n_m": float(trace.torque_n_m[k]), **truths})

    def _contact_rows(self, first_sample: int, trace: Trace) -> Iterator[TruthRow]:
        for n, name in enumerate(self._truths):
            if not name.endswith(("_closed", "_open", "_on")):
                continue
            row = trace.truths[n]
            before = np.concatenate(([self._contacts.get(name, row[0])], row[:-1]))
            for k in np.flatnonzero(row != before):
                yield TruthRow((first_sample + int(k)) / self._rate_hz, "contact", {"name": name, "value": row[k]})
            self._contacts[name] = float(row[-1])

    def _state_row(self, board_s: float, rpm: float, on: bool) -> Iterator[TruthRow]:
        self._rpm = [*self._rpm[-3 * _MEANS + 1 :], abs(rpm)]
        slow = abs(rpm) < STOPPED_RPM
        self._slow_rows = self._slow_rows + 1 if slow and on else 0
        if not on or self._slow_rows * ROW_S >= STALLED_S:
            self._settled = False
        elif len(self._rpm) == 3 * _MEANS and min(self._rpm) >= STOPPED_RPM:
            before, now = np.mean(self._rpm[:_MEANS]), np.mean(self._rpm[-_MEANS:])
            self._settled |= bool(abs(now - before) < _SETTLED * now)
        state = self._named(slow, on)
        if state != self._state:
            self._state = state
            yield TruthRow(board_s, "state", {"state": state})

    def _named(self, slow: bool, on: bool) -> str:
        if not on:
            return "resting" if slow else "coasting"
        if slow and self._slow_rows * ROW_S >= STALLED_S:
            return "stalled"
        return "running" if self._settled else "starting"
