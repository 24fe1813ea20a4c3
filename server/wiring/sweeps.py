"""The longest stretch in which a shaft went through one sector after another, and what its edges say of their places.

By the leads' voltages each edge has its own angle. Without them, of a shaft that runs down, only what repeats: the true
angle at edge k is 60 k and what is late at its place, and it is a smooth motion a(t) too; one linear least-squares
problem gives both. Pure.
"""

from dataclasses import dataclass

import numpy as np
from numpy.polynomial import chebyshev
from numpy.typing import NDArray

from server.wiring.course import Course
from server.wiring.kinds import kind_of
from server.wiring.visits import Visits

EDGES_MAX, LAST_S = 2000, 2.0  # of a shaft that runs down: longer ones are not smooth enough for one polynomial
_ORDER = 7  # of the polynomial, over LAST_S
_TURNS = 2  # whole turns at least
_SCATTER_DEG = 1.5  # of single edges about the fit; more is a hand, or a load that pulses
_ROUGH_DEG, _RISE, _FALL = 12.0, 1.02, 0.98  # running down: near a cubic, never faster than before, slower at the end


@dataclass(frozen=True, slots=True)
class Sweep:
    """Edges in their order, none lost, all in one sense: `ticks`, `kind` (2 * input + rising), `late_deg` by voltages
    (NaN where not known): (n,)."""

    ticks: NDArray[np.int64]
    kind: NDArray[np.int64]
    late_deg: NDArray[np.float64]

    @property
    def count(self) -> int:
        return int(self.ticks.shape[0])

    def last(self, edges: int) -> "Sweep":
        """The newest of them."""
        return Sweep(self.ticks[-edges:], self.kind[-edges:], self.late_deg[-edges:])


def longest_sweep(visits: Visits, course: Course) -> Sweep:
    """The longest row of visits that the shaft passed through in one sense."""
    sense = course.sense
    follows = np.zeros(sense.shape[0], np.bool_)
    follows[1:] = (sense[1:] == sense[:-1]) & (visits.begin_tick[1:] == visits.end_tick[:-1])
    index = np.arange(sense.shape[0])
    first = np.maximum.accumulate(np.where(follows, 0, index)) if index.size else index
    length = np.where(sense != 0, index - first + 1, 0)
    end = int(np.argmax(length)) + 1 if length.size else 0
    row = slice(end - int(length[end - 1]) if end else 0, end)
    return Sweep(visits.begin_tick[row], kind_of(visits)[row], visits.late_deg[row])


@dataclass(frozen=True, slots=True)
class ByPlace:
    """By place in a turn (places,), from the first edge of the last whole turns: degrees late, sum 0; `kind` of each
    place, the standard uncertainty of one, and its degrees of freedom."""

    deg: NDArray[np.float64]
    kind: NDArray[np.int64]
    standard_deg: float
    dof: int
    turns: int


def by_voltages(sweep: Sweep, places: int) -> ByPlace | None:
    """Mean of each place over the turns of those edges that have an angle; None where a place has none."""
    if sweep.count < places:
        return None
    known = np.flatnonzero(np.isfinite(sweep.late_deg))
    at, late = known % places, sweep.late_deg[known]
    count = np.bincount(at, minlength=places)
    if not count.all():
        return None
    centre = float(np.degrees(np.angle(np.exp(6j * np.radians(late)).sum()))) / 6.0
    deg = centre + (late - centre + 30.0) % 60.0 - 30.0
    mean = np.bincount(at, deg, places) / count
    dof = known.size - places
    scatter = float(np.sqrt(((deg - mean[at]) ** 2).sum() / dof)) if dof else _SCATTER_DEG
    each = scatter * float(np.sqrt(np.mean(1.0 / count)))
    return ByPlace(mean - mean.mean(), sweep.kind[:places], each, max(dof, 1), int(count.min()))


def by_running_down(sweep: Sweep, places: int, tick_hz: float) -> ByPlace | None:
    """By a smooth motion; None where the shaft did not run down, or too few turns came."""
    recent = int(np.count_nonzero(sweep.ticks >= sweep.ticks[-1] - LAST_S * tick_hz)) if sweep.count else 0
    turns = min(recent, EDGES_MAX) // places
    if turns < _TURNS:
        return None
    its = sweep.last(turns * places)
    time = (its.ticks - its.ticks[0]) / tick_hz
    if not runs_down(time):
        return None
    n = its.count
    order = int(np.clip(round(_ORDER * float(time[-1]) / LAST_S), 3, _ORDER))
    smooth = chebyshev.chebvander(2.0 * time / time[-1] - 1.0, order)
    at = np.arange(n) % places
    aside = smooth - _means(smooth, places)[at]
    angle = 60.0 * np.arange(n)
    left = angle - _means(angle[:, None], places)[at, 0]
    factors, *_ = np.linalg.lstsq(aside[:, 1:], left, rcond=None)
    rest = left - aside[:, 1:] @ factors
    dof = n - places - order
    scatter = float(np.sqrt(rest @ rest / max(dof, 1)))
    if dof < places or scatter > _SCATTER_DEG:
        return None
    late = -_means(np.asarray(angle - smooth[:, 1:] @ factors)[:, None], places)[:, 0]
    return ByPlace(late - late.mean(), its.kind[:places], scatter / turns**0.5, dof, turns)


def _means(table: NDArray[np.floating], places: int) -> NDArray[np.float64]:
    """Of every column at each place: (places, columns)."""
    return np.asarray(table.reshape(-1, places, table.shape[1]).mean(axis=0))


def runs_down(time: NDArray[np.float64]) -> bool:
    """Whether the times of edges, one after another, are those of a shaft that is left to itself."""
    x = 2.0 * (time - time[0]) / (time[-1] - time[0]) - 1.0
    angle = 60.0 * np.arange(time.shape[0])
    cubic = chebyshev.chebfit(x, angle, 3)
    if float(np.std(angle - chebyshev.chebval(x, cubic))) > _ROUGH_DEG:
        return False
    speeds = chebyshev.chebval(np.linspace(-1.0, 1.0, 9), chebyshev.chebder(cubic))
    return bool((speeds > 0).all() and (speeds[1:] <= _RISE * speeds[:-1]).all() and speeds[-1] <= _FALL * speeds[0])
