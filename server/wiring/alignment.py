"""How late Hall edges come after the crossing of two leads' voltages, with its uncertainty. Pure.

In the line convention, which six-step drives need, each edge comes just when the voltage between two leads is nothing.
Type A: scatter of each kind of edge about its own mean. Type B: what the channels' delays and offsets may be off by,
and the shape of the back-EMF (JCGM 100, 4.2 and 4.3). An offset errs the other way half an electrical turn later, so
it moves single kinds of edges and leaves their mean.
"""

from math import copysign, degrees, hypot, inf, sqrt

import numpy as np
from numpy.typing import NDArray

from server.quantities.uncertainty import Standard, coverage_factor, effective_dof
from server.wiring.course import Course
from server.wiring.figures import Alignment, Angle, EdgeAngle
from server.wiring.kinds import KINDS, Late, late_edges
from server.wiring.leads import OffBy
from server.wiring.visits import Visits

_SHAPE_DEG = 0.24  # half of what the corners of an ideal trapezoid shift an edge 15 degrees off, a sine none (own sum)
_PEAK = 1.65  # mean spread of three leads over the length of their vector: 1.654 for sines, 1.65 to 1.7 for trapezoids
_FEWEST = 6  # edges in a direction
_USUAL_DEG = 2.0  # scatter of an edge (common practice)
_OTHER_WAY = 15.0  # degrees of lag: more is no hysteresis, the two directions were taken to be 60 apart


def alignment_of(
    visits: Visits, course: Course, tick_hz: float, off_by: OffBy | None, look_s: float = 0.0
) -> Alignment | None:
    """None where no edge has an angle. `look_s`: between two looks at the inputs; 0: each edge has its own time."""
    late, off_by = late_edges(visits, course, tick_hz, look_s), _with_looks(off_by, look_s)
    if not late.deg.size:
        return None
    kinds = [_kind(late, kind, ahead, off_by) for ahead in (True, False) for kind in range(KINDS)]
    ahead, back = (_mean(late.where(late.ahead == way), off_by) for way in (True, False))
    placed, lag = _both(ahead, back)
    return Alignment(tuple(each for each in kinds if each is not None), ahead, back, placed, lag)


def _with_looks(off_by: OffBy | None, look_s: float) -> OffBy | None:
    """A shaft that keeps step with the looks is found late by the same part of one each time: rectangular, like a
    delay that is not known (JCGM 100, 4.3.7)."""
    if not look_s:
        return off_by
    known_s, volts = (0.0, None) if off_by is None else (off_by.delay_s or 0.0, off_by.volts)
    return OffBy(hypot(known_s, look_s / sqrt(12.0)), volts)


def circular_mean(deg: NDArray[np.float64]) -> float:
    """Of angles that are alike when 60 degrees apart, -30 to 30."""
    return degrees(float(np.angle(np.exp(6j * np.radians(deg)).sum()))) / 6.0


def near(deg: NDArray[np.float64], centre: float) -> NDArray[np.float64]:
    """The same angles within 30 degrees of `centre`."""
    there: NDArray[np.float64] = centre + (deg - centre + 30.0) % 60.0 - 30.0
    return there


def _kind(late: Late, kind: int, ahead: bool, off_by: OffBy | None) -> EdgeAngle | None:
    way = late.where(late.ahead == ahead)
    its = way.where(way.kind == kind)
    n = its.deg.size
    if not n:
        return None
    deg = near(its.deg, circular_mean(way.deg))
    scatter, dof = _pooled(way)
    parts: list[Standard] = [("scatter of edges", scatter / sqrt(n), dof)]
    if off_by is not None and off_by.volts is not None:
        moved = degrees(sqrt(2.0 / 3.0) * off_by.volts * _PEAK / float(its.spread_v.mean()))
        parts.append(("offsets of the channels", moved, inf))
    return EdgeAngle(kind // 2, bool(kind % 2), ahead, _angle(float(deg.mean()), parts, its, off_by))


def _pooled(late: Late) -> tuple[float, int]:
    """Scatter of an edge about the mean of its kind, by all kinds, and its degrees of freedom; a usual one where no
    kind came twice."""
    deg = near(late.deg, circular_mean(late.deg))
    count = np.bincount(late.kind, minlength=KINDS)
    left = deg - (np.bincount(late.kind, deg, KINDS) / np.maximum(count, 1))[late.kind]
    dof = int(deg.size - np.count_nonzero(count))
    return (sqrt(float(left @ left) / dof), dof) if dof else (_USUAL_DEG, 1)


def _mean(late: Late, off_by: OffBy | None) -> Angle | None:
    """Of all kinds alike, however often each came."""
    if late.deg.size < _FEWEST:
        return None
    deg = near(late.deg, circular_mean(late.deg))
    count = np.bincount(late.kind, minlength=KINDS)
    if not count.all():
        return None
    means = np.bincount(late.kind, deg, KINDS) / count
    left = deg - means[late.kind]
    dof = deg.size - KINDS
    if dof > 0:
        each = float(left @ left) / dof  # pooled
        scatter: Standard = ("scatter of edges", sqrt(each * float((1.0 / count).sum())) / KINDS, dof)
    else:
        scatter = ("scatter of kinds", float(np.std(means, ddof=1)) / sqrt(KINDS), KINDS - 1)
    return _angle(float(means.mean()), [scatter], late, off_by)


def _angle(deg: float, parts: list[Standard], late: Late, off_by: OffBy | None) -> Angle:
    """With what holds for all edges alike; half way between what a sine and a trapezoid would make of it."""
    shape = _SHAPE_DEG * float(np.sin(np.radians(6.0 * deg)))
    parts = [*parts, ("shape of the back-EMF", abs(shape) / sqrt(3.0), inf)]
    if off_by is not None and off_by.delay_s is not None:
        parts.append(("delays of the channels", 360.0 * float(late.hz.mean()) * off_by.delay_s, inf))
    total = hypot(*(standard for _, standard, _ in parts))
    return Angle(deg + shape, coverage_factor(effective_dof(parts)) * total, int(late.deg.size))


def _both(ahead: Angle | None, back: Angle | None) -> tuple[Angle | None, Angle | None]:
    """What changes its sign with the direction, and what does not. Halves of two angles that are known to 60 degrees
    are known to 30: that with less lag is meant."""
    if ahead is None or back is None:
        return None, None
    placed, lag = (ahead.deg - back.deg) / 2.0, (ahead.deg + back.deg) / 2.0
    if abs(lag) > _OTHER_WAY:
        placed, lag = placed - copysign(30.0, placed), lag - copysign(30.0, lag)
    half, edges = hypot(ahead.u95_deg, back.u95_deg) / 2.0, ahead.edges + back.edges
    return Angle(placed, half, edges), Angle(lag, half, edges)
