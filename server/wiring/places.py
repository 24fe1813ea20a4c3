"""Where sensors sit, how long they are high, and how even the magnets are: lateness of edges, split. Pure.

What all edges of a sensor share is its place, what its rising and falling edges have against each other its width,
what one pass of a pole's border makes at all three sensors alike is the magnet's. A common width of all sensors can't
be told from poles of two widths, nor, without the leads' voltages, a common place from timing.
"""

from math import hypot, sqrt

import numpy as np
from numpy.typing import NDArray

from server.quantities.uncertainty import coverage_factor
from server.wiring.course import Course
from server.wiring.figures import Alignment, Angle, EdgeAngle, EdgeErrors
from server.wiring.kinds import KINDS
from server.wiring.sweeps import ByPlace, Sweep, by_running_down, by_voltages, longest_sweep
from server.wiring.visits import Visits

_ALIKE, _BETTER = 0.5, 0.2  # correlation of two sensors' patterns: from which on another pass of the border is meant


def edge_errors(
    visits: Visits, course: Course, alignment: Alignment | None, pole_pairs: int | None, tick_hz: float
) -> EdgeErrors | None:
    """By the leads' voltages where all kinds of edges have an angle, else of a shaft that runs down."""
    sweep = longest_sweep(visits, course)
    magnets = _magnets(sweep, pole_pairs, tick_hz)
    if alignment is not None and alignment.ahead is not None:
        return _by_voltages(alignment, magnets)
    return _by_running_down(sweep, magnets, pole_pairs, tick_hz)


def _by_voltages(alignment: Alignment, magnets: tuple[Angle, ...]) -> EdgeErrors:
    of = {(each.place, each.rising, each.ahead): each for each in alignment.kinds}
    both = alignment.placed is not None
    place, width = [], []
    for sensor in range(3):
        ahead = [of[sensor, rising, True] for rising in (False, True)]
        back = [of[sensor, rising, False] for rising in (False, True)] if both else []
        place.append(_half_sum([each.late for each in ahead], [each.late for each in back], alignment))
        width.append(_difference(ahead, back))
    return EdgeErrors((place[0], place[1], place[2]), (width[0], width[1], width[2]), magnets, True, True)


def _half_sum(ahead: list[Angle], back: list[Angle], alignment: Alignment) -> Angle:
    """Of falling and rising; of both directions, less what comes late both ways."""
    edges = sum(each.edges for each in (*ahead, *back))
    forward = (ahead[0].deg + ahead[1].deg) / 2.0
    half = hypot(*(each.u95_deg for each in (*ahead, *back))) / len((*ahead, *back))
    if not back or alignment.lag is None:
        return Angle(forward, half, edges)
    backward = (back[0].deg + back[1].deg) / 2.0
    placed = (forward - backward) / 2.0
    if alignment.placed is not None:  # the same choice of two angles 30 degrees apart as of the mean
        placed += 30.0 * round((alignment.placed.deg - placed) / 30.0)
    return Angle(placed, half, edges)


def _difference(ahead: list[EdgeAngle], back: list[EdgeAngle]) -> Angle:
    """Of falling and rising. What offsets and gains move lengthens the high part alike in both directions."""
    every, ways = [*ahead, *back], 2 if back else 1
    deg = sum(each.late.deg * (-1.0 if each.rising else 1.0) for each in every) / ways
    apart = hypot(*((each.late.u95_deg**2 - each.moved_deg**2) ** 0.5 for each in every)) / ways
    moved = sum(each.moved_deg for each in every) / ways
    return Angle(deg, hypot(apart, moved), sum(each.late.edges for each in every))


def _by_running_down(
    sweep: Sweep, magnets: tuple[Angle, ...], pole_pairs: int | None, tick_hz: float
) -> EdgeErrors | None:
    late = by_running_down(sweep, KINDS * (pole_pairs or 1), tick_hz)
    if late is None:
        return None
    mean = _kind_means(late).reshape(3, 2)
    factor = coverage_factor(late.dof)
    edges = late.turns * late.deg.shape[0] // 3
    half = factor * late.standard_deg * sqrt(3.0 / late.deg.shape[0])
    place, width = mean.mean(axis=1), mean[:, 0] - mean[:, 1]
    places = [Angle(float(each), half, edges) for each in place - place.mean()]
    widths = [Angle(float(each), 2.0 * half, edges) for each in width]
    return EdgeErrors((places[0], places[1], places[2]), (widths[0], widths[1], widths[2]), magnets, False, False)


def _kind_means(late: ByPlace) -> NDArray[np.float64]:
    count = np.maximum(np.bincount(late.kind, minlength=KINDS), 1)
    return np.asarray(np.bincount(late.kind, late.deg, KINDS) / count)


def _magnets(sweep: Sweep, pole_pairs: int | None, tick_hz: float) -> tuple[Angle, ...]:
    """How late each border of two poles passes, where a whole turn of the shaft came."""
    if not pole_pairs or pole_pairs < 2:
        return ()
    places = KINDS * pole_pairs
    late = by_voltages(sweep, places) or by_running_down(sweep, places, tick_hz)
    if late is None or np.bincount(late.kind // 2, minlength=3).min() != 2 * pole_pairs:
        return ()
    left = late.deg - _kind_means(late)[late.kind]
    sensors = late.kind[:3] // 2  # in the order in which a border meets them, the third being one edge ahead
    first = left[late.kind // 2 == sensors[0]]
    rows = [first, *(_as_met(first, left[late.kind // 2 == s], due) for s, due in ((sensors[1], 1), (sensors[2], 0)))]
    mean = np.mean(rows, axis=0)
    scatter = float(np.sqrt(np.mean(np.var(rows, axis=0, ddof=1)) / 3.0))
    half = coverage_factor(2.0 * mean.shape[0]) * max(scatter, late.standard_deg / sqrt(3.0))
    return tuple(Angle(float(each), half, 3 * late.turns) for each in mean)


def _as_met(first: NDArray[np.float64], other: NDArray[np.float64], due: int) -> NDArray[np.float64]:
    """The row of another sensor, turned so that the same border stands at the same place: as sensors a third of an
    electrical turn apart meet it, unless the patterns say that they sit poles apart."""
    turned = [np.roll(other, -shift) for shift in range(other.shape[0])]
    size = float(np.sqrt(first @ first))
    alike = [float(first @ row) / max(size * float(np.sqrt(row @ row)), 1e-12) for row in turned]
    best = int(np.argmax(alike))
    return turned[best] if alike[best] >= _ALIKE and alike[best] > alike[due] + _BETTER else turned[due]
