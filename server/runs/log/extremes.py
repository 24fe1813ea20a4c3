"""What a window's readings hide and its half cycles and rows of 10 ms know: lowest and highest beside the value. Pure.

RMS readings take the lowest and highest RMS over one cycle, which are readings of the same window; the speed, and mean
current and voltage of a motor that is fed by direct current, those of their rows.
"""

from collections.abc import Mapping, Sequence

import numpy as np

from server.readings import Fast, Instant
from server.runs.log.packed import WORD, Packed
from server.runs.log.summary import Floats, Stretch

_OF_ROWS = ("speed_rpm", "current_mean_a", "voltage_mean_v")  # of the main channels: they stand without a place
_OF_HALF_CYCLES = {
    f"{name}_rms_{unit}": tuple(f"{name}_half_cycle_{end}_{unit}" for end in ("min", "max"))
    for name, unit in (("voltage", "v"), ("current", "a"))
}
_SAME_S = 0.005  # rows of a window end with it


def stretch_at(instant: Instant, row: Packed, rows: Sequence[Fast], far_line: Sequence[str]) -> Stretch | None:
    """The readings of an instant that are numbers, and how low and high they went in it; None where there is none.

    `rows`: what came in the same output; `far_line`: of the motor's type.
    """
    taken = [k for k, mark in enumerate(row.marks) if not mark & WORD]
    if not taken:
        return None
    ids = row.ids if len(taken) == len(row.ids) else tuple(row.ids[k] for k in taken)
    value = np.array([row.values[k] for k in taken])
    marks = np.array([row.marks[k] for k in taken])
    value[~np.isfinite(value)] = np.nan
    count = (~np.isnan(value)).astype(np.int64)
    low, high = value.copy(), value.copy()
    at = {each: k for k, each in enumerate(ids)}
    _widen_by_half_cycles(at, low, high)
    its = next((each for each in rows if _ends_with(each, instant)), None)
    for key in (key for key in _OF_ROWS if key in far_line and its is not None):
        k = at.get(key)
        if k is not None and marks[k] == 0:  # rows know no doubt
            assert its is not None
            _widen_by_rows(k, _rows_of(its, key, float(value[k])), low, high)
    return Stretch(ids, low, high, value, count, ((marks == 1) & (count > 0)).astype(np.int64), 1 - count)


def _ends_with(rows: Fast, instant: Instant) -> bool:
    return bool(rows.board_s.size) and abs(float(rows.board_s[-1]) - instant.board_s) < _SAME_S


def _widen_by_half_cycles(at: Mapping[str, int], low: Floats, high: Floats) -> None:
    for each, k in at.items():
        key, dot, place = each.partition(".")
        found = _OF_HALF_CYCLES.get(key)
        if found is None or np.isnan(low[k]):
            continue
        lowest, highest = (at.get(f"{its}{dot}{place}") for its in found)
        if lowest is not None and highest is not None:
            low[k], high[k] = np.fmin(low[k], low[lowest]), np.fmax(high[k], high[highest])


def _rows_of(rows: Fast, key: str, value: float) -> Floats:
    if key == "speed_rpm":
        return rows.speed_rpm
    its = rows.current_a if key == "current_mean_a" else rows.voltage_v
    return its if value >= 0.0 else -its  # of rows the magnitude is told


def _widen_by_rows(k: int, rows: Floats, low: Floats, high: Floats) -> None:
    known = rows[~np.isnan(rows)]
    if known.size:
        low[k], high[k] = min(low[k], known.min()), max(high[k], known.max())
