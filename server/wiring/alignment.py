"""How late Hall edges come after the crossing of two leads' voltages, with its uncertainty. Pure.

In the line convention, which six-step drives need, each edge comes just when the voltage between two leads is nothing.
Type A: scatter of edges about the mean of their kind. Type B: what the channels' delays, offsets and gains may be off
by, and the shape of the back-EMF (JCGM 100, 4.2 and 4.3). An offset errs the other way half an electrical turn later,
and an error of gain is one as large as its share of what the channel reads: they move single kinds of edges, and their
mean by no more than the speed differs between them. What errs alike in both directions, as delays do, is taken off
from what changes its sign with the direction, and stays whole in what does not.
"""

from dataclasses import dataclass, replace
from math import copysign, degrees, hypot, inf, sqrt

import numpy as np
from numpy.typing import NDArray

from server.quantities.uncertainty import NORMAL_95, Standard, coverage_factor, effective_dof
from server.wiring.figures import Alignment, Angle, EdgeAngle
from server.wiring.grounds import Grounds
from server.wiring.kinds import KINDS, USUAL_DEG, Late, late_edges
from server.wiring.scatter import Scatter, scatter_of

_SHAPE_DEG = 0.24  # half of what the corners of an ideal trapezoid shift an edge 15 degrees off, a sine none (own sum)
_FEWEST = 6  # edges in a direction
_OFTEN = 3  # of each kind: fewer, and their own means are not told from scatter (ours)
_OTHER_WAY = 15.0  # degrees of lag: more is no hysteresis, the two directions were taken to be 60 apart


@dataclass(frozen=True, slots=True)
class _Mean:
    """Degrees late in the direction turned: the sum over edges of `weight` (n,) times how late each is. And standard
    uncertainties, with their signs where they err alike in both directions: `shape` of the back-EMF, `delay` of the
    channels; `moved` by offsets and gains."""

    deg: float
    edges: int
    weight: NDArray[np.float64]
    shape: float
    delay: float
    moved: float


def alignment_of(grounds: Grounds) -> Alignment | None:
    """None where no edge has an angle, or a drive makes the voltages."""
    late, follows = late_edges(grounds), grounds.follows
    if not late.deg.size or (follows is not None and follows.driven):
        return None
    kinds = [_kind(late, kind, way) for way in (True, False) for kind in range(KINDS)]
    told = tuple(each for each in kinds if each is not None)
    scatter = _scatter(late, grounds.known.pole_pairs)
    ahead, back = (_mean(late, late.ahead == way) for way in (True, False))
    alone = [None if each is None else _angle(each, scatter) for each in (ahead, back)]
    both = (None, None) if ahead is None or back is None else _both(ahead, back, scatter)
    return Alignment(told, *alone, *both)


def circular_mean(deg: NDArray[np.float64]) -> float:
    """Of angles that are alike when 60 degrees apart, -30 to 30."""
    return degrees(float(np.angle(np.exp(6j * np.radians(deg)).sum()))) / 6.0


def near(deg: NDArray[np.float64], centre: float) -> NDArray[np.float64]:
    """The same angles within 30 degrees of `centre`."""
    there: NDArray[np.float64] = centre + (deg - centre + 30.0) % 60.0 - 30.0
    return there


def _kind(late: Late, kind: int, ahead: bool) -> EdgeAngle | None:
    way = late.where(late.ahead == ahead)
    its = way.where(way.kind == kind)
    if not its.deg.size:
        return None
    share = its.worth / its.worth.sum()
    deg = float(share @ near(its.deg, circular_mean(way.deg)))
    scatter, dof = _pooled(way)
    shape, moved = _shape(deg), float(share @ its.moved)
    parts = [("scatter of edges", scatter * sqrt(float(share @ share)), dof), ("offsets and gains", moved, inf)]
    parts += _alike(shape / sqrt(3.0), float(share @ its.delayed))
    angle = Angle(deg + shape, _expanded(parts), its.deg.size)
    return EdgeAngle(kind // 2, bool(kind % 2), ahead, angle, NORMAL_95 * moved)


def _pooled(late: Late) -> tuple[float, int]:
    """Scatter of an edge about the mean of its kind, by all kinds, and its degrees of freedom; a usual one where no
    kind came twice."""
    left = _left(late, late.kind)
    dof = int(left.size - np.unique(late.kind).size)
    return (sqrt(float(left @ left) / dof), dof) if dof else (USUAL_DEG, 1)


def _left(late: Late, group: NDArray[np.int64]) -> NDArray[np.float64]:
    """Of each edge of one direction, what is left beside the mean of its group, as much as it is worth."""
    deg = near(late.deg, circular_mean(late.deg))
    mean = np.bincount(group, late.worth * deg) / np.maximum(np.bincount(group, late.worth), 1e-12)
    return np.asarray((deg - mean[group]) * np.sqrt(late.worth / late.worth.mean()))


def _scatter(late: Late, pole_pairs: int | None) -> Scatter:
    """Beside the means of kinds; where too few edges came for these, beside that of each direction."""
    left, means = np.zeros(late.deg.size), 0
    for way in (True, False):
        its = late.where(late.ahead == way)
        if its.deg.size:
            often = bool(np.bincount(its.kind, minlength=KINDS).min() >= _OFTEN)
            left[late.ahead == way] = _left(its, its.kind if often else np.zeros_like(its.kind))
            means += KINDS if often else 1
    return scatter_of(left, late.border, np.where(late.ahead, 1, -1), means, pole_pairs)


def _mean(late: Late, chosen: NDArray[np.bool_]) -> _Mean | None:
    """Of all kinds alike, however often each came, in one direction."""
    its = late.where(chosen)
    worth = np.bincount(its.kind, its.worth, KINDS)
    if its.deg.size < _FEWEST or not worth.all():
        return None
    share = its.worth / (KINDS * worth[its.kind])
    mean = float(share @ near(its.deg, circular_mean(its.deg)))
    moved = np.bincount(its.kind, share * its.moved, KINDS).reshape(3, 2)
    unlike = float(np.hypot.reduce(moved[:, 0] - moved[:, 1]))  # rising and falling edges move against each other
    shape, weight = _shape(mean), np.zeros(late.deg.size)
    weight[chosen] = share
    return _Mean(mean + shape, its.deg.size, weight, shape / sqrt(3.0), float(share @ its.delayed), unlike)


def _shape(deg: float) -> float:
    """Half way between what a sine and a trapezoid would make of it; as much may be left."""
    return _SHAPE_DEG * float(np.sin(np.radians(6.0 * deg)))


def _both(ahead: _Mean, back: _Mean, scatter: Scatter) -> tuple[Angle, Angle]:
    """What changes its sign with the direction, and what does not. Halves of two angles that are known to 60 degrees
    are known to 30: that with less lag is meant."""
    placed, lag = (_angle(_half(ahead, back, sign), scatter) for sign in (-1.0, 1.0))
    if abs(lag.deg) <= _OTHER_WAY:
        return placed, lag
    return replace(placed, deg=placed.deg - copysign(30.0, placed.deg)), replace(
        lag, deg=lag.deg - copysign(30.0, lag.deg)
    )


def _half(ahead: _Mean, back: _Mean, sign: float) -> _Mean:
    """Half of their sum, or of their difference."""
    return _Mean(
        (ahead.deg + sign * back.deg) / 2.0,
        ahead.edges + back.edges,
        (ahead.weight + sign * back.weight) / 2.0,
        (ahead.shape + sign * back.shape) / 2.0,
        (ahead.delay + sign * back.delay) / 2.0,
        hypot(ahead.moved, back.moved) / 2.0,
    )


def _angle(mean: _Mean, scatter: Scatter) -> Angle:
    parts = [*scatter.parts(mean.weight), ("offsets and gains", mean.moved, inf), *_alike(mean.shape, mean.delay)]
    return Angle(mean.deg, _expanded(parts), mean.edges)


def _alike(shape: float, delay: float) -> list[Standard]:
    return [("shape of the back-EMF", shape, inf), ("delays of the channels", delay, inf)]


def _expanded(parts: list[Standard]) -> float:
    return coverage_factor(effective_dof(parts)) * hypot(*(standard for _, standard, _ in parts))
