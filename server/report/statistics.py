"""Readings over the windows in which a motor ran: mean, ±, lowest, highest, how often doubtful or absent. Pure."""

from collections.abc import Iterable
from dataclasses import dataclass
from math import inf, isfinite

import numpy as np
from numpy.typing import NDArray

from server.motors import MotorType, Supply
from server.quantities import QUANTITIES
from server.readings import Confidence, Reading
from server.report.report import Statistic
from server.runs.log.table import ABSENT, DOUBTFUL, Cells, Floats

ROWS_MAX = 40
KEYS = (
    *("speed_rpm", "slip", "voltage_rms_v", "voltage_mean_v", "current_rms_a", "current_mean_a", "frequency_hz"),
    *("electrical_frequency_hz", "active_power_w", "apparent_power_va", "power_factor", "displacement_power_factor"),
    *("effective_power_factor", "current_thd_percent", "voltage_thd_percent", "commutator_noise_a"),
    *("voltage_unbalance_percent", "current_unbalance_percent", "torque_ripple_percent", "commutation_late_deg"),
    *("winding_resistance_ohm", "winding_rise_k", "shaft_torque_estimate_n_m", "shaft_power_estimate_w"),
    "temperature_c",
)  # of the catalogue: what a person compares from one run to the next; lists, angles and peaks of moments are left out
_ORDER = {each.key: k for k, each in enumerate(QUANTITIES)}
_KEYS = frozenset(KEYS)
_MEANS = ("voltage_mean_v", "current_mean_a")


@dataclass(slots=True)
class _Row:
    total: float = 0.0
    counted: int = 0
    u95: float = 0.0
    with_u95: int = 0
    low: float = inf
    low_utc_s: float = 0.0
    high: float = -inf
    high_utc_s: float = 0.0
    doubtful: int = 0
    absent: int = 0

    def take(self, reading: Reading, utc_s: float) -> None:
        value = reading.value
        if isinstance(value, bool) or not isinstance(value, int | float) or not isfinite(value):
            self.absent += 1
            return
        self.total += value
        self.counted += 1
        self.doubtful += reading.confidence is Confidence.DOUBTFUL
        if value < self.low:
            self.low, self.low_utc_s = value, utc_s
        if value > self.high:
            self.high, self.high_utc_s = value, utc_s
        if reading.uncertainty is not None:
            self.u95 += reading.uncertainty.half
            self.with_u95 += 1

    def take_cells(self, its: Cells, utc_s: Floats, ran: NDArray[np.bool_]) -> None:
        """Many at once, as if they came one behind the other."""
        known = ran & np.isfinite(its.values)
        self.absent += int((ran & (its.confidence == ABSENT)).sum())
        if not known.any():
            return
        values, moments, u95 = its.values[known], utc_s[known], its.u95[known]
        self.total = float(np.cumsum([self.total, *values])[-1])
        self.counted += values.size
        self.doubtful += int((its.confidence[known] == DOUBTFUL).sum())
        lowest, highest = int(values.argmin()), int(values.argmax())
        if values[lowest] < self.low:
            self.low, self.low_utc_s = float(values[lowest]), float(moments[lowest])
        if values[highest] > self.high:
            self.high, self.high_utc_s = float(values[highest]), float(moments[highest])
        self.u95 = float(np.cumsum([self.u95, *u95[np.isfinite(u95)]])[-1])
        self.with_u95 += int(np.isfinite(u95).sum())


class Statistics:
    """Give it the readings of windows in which the motor ran."""

    def __init__(self) -> None:
        self._rows: dict[str, _Row] = {}

    def take(self, readings: Iterable[Reading], utc_s: float) -> None:
        for each in readings:
            if each.key in _KEYS:
                row = self._rows.get(each.id)
                if row is None:
                    row = self._rows[each.id] = _Row()
                row.take(each, utc_s)

    def take_cells(self, its_id: str, its: Cells, utc_s: Floats, ran: NDArray[np.bool_]) -> None:
        """One reading over the instants of a table, of those in which the motor ran."""
        if its_id.partition(".")[0] in _KEYS and (ran & (its.confidence > 0)).any():
            self._rows.setdefault(its_id, _Row()).take_cells(its, utc_s, ran)

    def found(self, motor: MotorType | None) -> tuple[Statistic, ...]:
        """In the catalogue's order; without what no window had, and without means of what alternates."""
        no = _MEANS if motor is not None and motor.supply is Supply.ALTERNATING else ()
        rows = [(key, row) for key, row in self._rows.items() if row.counted and not key.startswith(no)]
        rows.sort(key=lambda each: (_ORDER[each[0].partition(".")[0]], each[0]))
        return tuple(
            Statistic(
                id=key,
                mean=row.total / row.counted,
                u95=row.u95 / row.with_u95 if row.with_u95 else None,
                low=row.low,
                low_utc_s=row.low_utc_s,
                high=row.high,
                high_utc_s=row.high_utc_s,
                good=row.counted - row.doubtful,
                doubtful=row.doubtful,
                absent=row.absent,
            )
            for key, row in rows[:ROWS_MAX]
        )
