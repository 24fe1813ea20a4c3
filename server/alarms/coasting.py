"""How a motor that has lost its current coasts: the time to half its speed, and what of it dry friction explains. Pure.

A fan or pump brakes by the square of the speed, a bearing or seal that rubs hardly asks for it. So the shaft slows by

    dn/dt = -(d + c n^2)

and the times from the full speed n to n/2 and from there to n/4 tell the two apart: their ratio is 1/2 where all is dry
friction and 2 where all is fan. With q = n sqrt(c / d), t1 = n (atan q - atan q/2) / (d q), and likewise t2 (integrals
of textbooks). Viscous friction falls to both.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final, TypeAlias

import numpy as np
from numpy.typing import NDArray

from server.readings import Fast

TO_HALF_S: Final = "coast_to_half_s"
DRY_RPM_S: Final = "dry_friction_rpm_s"  # d: by how much it slows in a second where the fan does not count
ROW_S = 0.01
ROWS_MAX = 6000  # a minute: what coasts for longer is not timed
PERIODS_MIN = 3  # of an encoder that is slower than rows: with fewer its rows are taken as they are
Array: TypeAlias = NDArray[np.float64]
_Q = np.concatenate([[1e-6], np.geomspace(1e-2, 1e3, 400)])
_UPPER, _LOWER = (np.arctan(_Q / k) - np.arctan(_Q / (2 * k)) for k in (1, 2))


@dataclass(frozen=True, slots=True)
class Coast:
    """`ran_rpm`: the last speed at which it ran; `since_s`: it coasts since this board time, `rows` of time and speed
    since then."""

    ran_rpm: float = 0.0
    since_s: float | None = None
    rows: tuple[tuple[float, float], ...] = ()
    state: str = ""


def coasted(coast: Coast, fast: Fast) -> tuple[Coast, Mapping[str, float] | None]:
    """What holds after these rows, and the two figures where a quarter of the speed was passed in them.

    Without an answer: it was switched on again or held, half the speed was passed by the time the coasting was told, or
    it takes longer than a minute.
    """
    for change in fast.changes:
        begins = change.state == "coasting" and coast.ran_rpm > 0.0
        coast = Coast(coast.ran_rpm, change.board_s if begins else None, (), change.state)
    speeds = np.abs(fast.speed_rpm)
    if coast.state == "running" and np.isfinite(speeds[-1:]).any():
        return replace(coast, ran_rpm=float(speeds[-1])), None
    if coast.since_s is None:
        return coast, None
    inside = np.isfinite(speeds) & (fast.board_s > coast.since_s)
    rows = (*coast.rows, *zip(fast.board_s[inside].tolist(), speeds[inside].tolist(), strict=True))
    late = bool(fast.changes) and any(rpm <= 0.5 * coast.ran_rpm for _, rpm in rows)
    figures = None if late else _figures(coast.since_s, coast.ran_rpm, rows)
    if late or figures is not None or len(rows) > ROWS_MAX:
        return replace(coast, since_s=None, rows=()), figures
    return replace(coast, rows=rows), None


def _figures(since_s: float, ran_rpm: float, rows: Sequence[tuple[float, float]]) -> Mapping[str, float] | None:
    if not rows or rows[-1][1] > 0.25 * ran_rpm:
        return None
    times, speeds = _curve(since_s, ran_rpm, np.array(rows))
    half_s, quarter_s = (_passed_s(times, speeds, part * ran_rpm) for part in (0.5, 0.25))
    if half_s is None or quarter_s is None or not since_s < half_s < quarter_s:
        return None
    dry = dry_rpm_s(ran_rpm, half_s - since_s, quarter_s - half_s)
    return {TO_HALF_S: half_s - since_s, DRY_RPM_S: dry}


def _curve(since_s: float, ran_rpm: float, rows: Array) -> tuple[Array, Array]:
    """Times and speeds. An encoder of few pulses gives a speed a period: a row in which it fell and after which it
    stays ends one, and the speed is that of its middle. Rows between, until the next edge, say the most it can be."""
    t, v = rows.T
    ends = 1 + np.flatnonzero((v[1:-1] < v[:-2]) & (v[2:] == v[1:-1]))
    if ends.size > PERIODS_MIN:
        t, v = 0.5 * (t[ends[:-1]] + t[ends[1:]]) - 0.5 * ROW_S, v[ends[1:]]
    return np.concatenate([[since_s], t]), np.concatenate([[ran_rpm], v])


def _passed_s(times: Array, speeds: Array, rpm: float) -> float | None:
    """When a curve that falls passes this speed, by a line between two of its points."""
    k = int(np.argmax(speeds <= rpm))
    if not k:
        return None
    span_s, part = times[k] - times[k - 1], (speeds[k - 1] - rpm) / (speeds[k - 1] - speeds[k])
    return float(times[k - 1] + span_s * part)


def dry_rpm_s(rpm: float, to_half_s: float, to_quarter_s: float) -> float:
    """d of the motor that coasts from `rpm` to the half in `to_half_s` and on to the quarter in `to_quarter_s`, in
    r/min a second. Where rows of 10 ms make the ratio of the times impossible, the nearest possible one holds."""
    q = float(np.interp(to_quarter_s / to_half_s, _LOWER / _UPPER, _Q))
    return rpm * float(np.arctan(q) - np.arctan(0.5 * q)) / (q * to_half_s)
