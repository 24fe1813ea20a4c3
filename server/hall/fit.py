"""A line through the times of edges, which sit at places of a turn that nobody knows exactly. Pure; knows no motor.

An edge that sits late is late in every turn: each place has an offset of its own in the fit, so that offsets cancel.
That costs little: over two whole turns 15 % more scatter than with known places, over three 6 %. What earlier turns
said of the places can be taken off instead, where a window holds less than two turns.
"""

from dataclasses import dataclass
from functools import lru_cache
from math import sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

TICK = 1.0 / sqrt(12.0)  # standard uncertainty of a time that is rounded to a tick
_TURNS_MIN = 3  # before offsets are believed
_CHANGE_MAX = 0.1  # of the speed, while they are learned


@dataclass(frozen=True, slots=True)
class Fit:
    """`step_ticks` from one edge to the next, and its standard uncertainty with so many degrees of freedom.

    `growth`: by how many ticks a step grows from one edge to the next, with its own standard uncertainty; from the
    first edge to the last there are `steps`. `scatter`: of one edge, in ticks, with the same degrees of freedom.
    `moved`: by how much the step differs from that of the middle, as the speed changes: where the window holds no whole
    turns, places of which there is one more than of others weigh as much.
    """

    step_ticks: float
    standard: float
    dof: int
    growth: float
    growth_standard: float
    steps: int
    scatter: float
    moved: float = 0.0

    @property
    def steady(self) -> bool:
        """The speed changed by no more than a thousandth, or than the scatter explains if that is no more than 3 %."""
        change, scatter = abs(self.growth) * self.steps, 4.0 * self.growth_standard * self.steps
        return change < max(1e-3 * self.step_ticks, min(scatter, 0.03 * self.step_ticks))


def fitted(ticks: NDArray[np.int64] | NDArray[np.float64], places: int, look_ticks: int = 1) -> Fit | None:
    """Least squares over edges at `places` places of a turn in their order; None where too few come twice.

    The standard uncertainty is that of a fit with a straight line, from the scatter about a parabola; at least that of
    the rounding to ticks, or of the `look_ticks` in which an edge lies anywhere. The bound for edges with independent
    noise s and known places is s / sqrt(n (n^2 - 1) / 12) (Kay, Estimation Theory, straight line; from memory).
    """
    n = ticks.shape[0]
    dof = n - min(places, n) - 2
    if dof < 1:
        return None
    table = _table(n, places)
    squares, mixed, fourths = table.squares, table.mixed, table.fourths
    determinant = squares * fourths - mixed * mixed
    if determinant <= 1e-9 * squares * fourths:
        return None
    time = _without_places((ticks - ticks[n // 2]).astype(np.float64), table.at, table.counts)
    slope_sum, bend_sum = float(table.line @ time), float(table.parabola @ time)
    slope = (slope_sum * fourths - bend_sum * mixed) / determinant
    bend = (bend_sum * squares - slope_sum * mixed) / determinant
    time -= slope * table.line
    time -= bend * table.parabola
    scatter = max(sqrt(float(time @ time) / dof), look_ticks * TICK)
    growth_standard = 2.0 * scatter * sqrt(squares / determinant) / n
    moved, step = abs(bend * mixed) / squares, slope_sum / squares
    return Fit(step, scatter / sqrt(squares), dof, 2.0 * bend / n, growth_standard, n - 1, scatter, moved)


class _Table(NamedTuple):
    """What of a fit depends on numbers of edges and places alone: line and parabola without their means at each place,
    and the sums of their squares and products; which place each edge is at, and how many are there."""

    at: NDArray[np.intp]
    counts: NDArray[np.intp]
    line: NDArray[np.float64]
    parabola: NDArray[np.float64]
    squares: float
    mixed: float
    fourths: float


@lru_cache(maxsize=16)
def _table(n: int, places: int) -> _Table:
    """A steady shaft has one or two numbers of edges in its windows."""
    at = np.arange(n) % places
    counts = np.maximum(np.bincount(at, minlength=places), 1)
    k = np.arange(n) - 0.5 * (n - 1)
    line, parabola = (_without_places(column, at, counts) for column in (k, k * k / n))
    return _Table(at, counts, line, parabola, float(line @ line), float(line @ parabola), float(parabola @ parabola))


def _without_places(
    column: NDArray[np.floating], at: NDArray[np.intp], counts: NDArray[np.intp]
) -> NDArray[np.float64]:
    """A column less its mean at every place."""
    means = np.bincount(at, column, counts.shape[0]) / counts
    left: NDArray[np.float64] = column - means[at]
    return left


def offsets(ticks: NDArray[np.int64], places: int) -> NDArray[np.float64] | None:
    """How late the edge of each place is, in steps (one entry a place, that of the last edge last, sum 0); None where
    fewer than three turns are steady enough.

    Assumes that the shaft's own motion is smooth: what changes as a polynomial of third order within these turns is
    motion, what repeats every turn is the place.
    """
    turns = (ticks.shape[0] - 1) // places
    if turns < _TURNS_MIN:
        return None
    n = turns * places
    time = (ticks[-n:] - ticks[-n]).astype(np.float64)
    k = (np.arange(n) - 0.5 * (n - 1)) / n
    powers = np.array((k, k * k, k**3))
    tables = powers.reshape(3, turns, places)
    inner = (tables - tables.mean(axis=1, keepdims=True)).reshape(3, n)
    table = time.reshape(turns, places)
    inside = (table - table.mean(axis=0)).ravel()
    factors = np.linalg.solve(inner @ inner.T, inner @ inside)
    step = factors[0] / n
    if not step > 0 or abs(factors[1]) + abs(factors[2]) > _CHANGE_MAX * factors[0]:
        return None
    late: NDArray[np.float64] = (time - factors @ powers).reshape(turns, places).mean(axis=0)
    late -= late.mean()
    late /= step
    return late


def corrected(ticks: NDArray[np.int64], late: NDArray[np.float64], look_ticks: int = 1) -> Fit | None:
    """The fit of edges that are put in their place first; the last edge is that of the last of `late`.

    What `late` is off by is in the scatter: within a turn no place comes twice, and hardly within two.
    """
    n = ticks.shape[0]
    if n < 4:
        return None
    step = float(ticks[-1] - ticks[0]) / (n - 1)
    at = late[np.arange(-n, 0) % late.shape[0]]
    rough = fitted(ticks - step * at, 1, look_ticks)
    if rough is None:
        return None
    return fitted(ticks - rough.step_ticks * at, 1, look_ticks)  # free of the outer edges' own places
