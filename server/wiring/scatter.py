"""What a mean over edges may be off by, from how they scatter (JCGM 100, 4.2). Pure.

Edges are no independent draws. A border of two poles that sits out of its place moves the edges of all three sensors,
each time it passes, and late one way is early the other. So scatter has two parts, of borders and of edges (analysis
of variance, one way; any text on statistics), and a mean that met every border of the shaft alike is free of the first.
"""

from dataclasses import dataclass
from math import inf, sqrt

import numpy as np
from numpy.typing import NDArray

from server.quantities.uncertainty import Standard

_SENSORS = 3
_WIDTHS = 2  # north and south poles have means of their own, which are widths


@dataclass(frozen=True, slots=True)
class Scatter:
    """By edge (n,): `border` of two poles, from 0, and `way`, +1 or -1 as the shaft turned. `borders`: of a turn of the
    shaft, inf where not known. Standard deviations in degrees and their degrees of freedom."""

    border: NDArray[np.int64]
    way: NDArray[np.int64]
    borders: float
    of_borders: float
    of_edges: float
    borders_dof: int
    edges_dof: int

    def parts(self, weight: NDArray[np.float64]) -> list[Standard]:
        """Of the sum over edges of `weight` (n,) times how late each is in the direction turned."""
        met = np.bincount(self.border, weight * self.way)
        common = float(met.sum()) / self.borders  # errors of all borders add up to nothing
        unmet = max(self.borders - met.size, 0.0) * common**2 if common else 0.0
        uneven = sqrt(float(((met - common) ** 2).sum()) + unmet)
        edges = sqrt(float(weight @ weight))
        return [
            ("places of magnets", self.of_borders * uneven, self.borders_dof),
            ("scatter of edges", self.of_edges * edges, self.edges_dof),
        ]


def scatter_of(
    left: NDArray[np.float64],
    sector_border: NDArray[np.int64],
    way: NDArray[np.int64],
    means: int,
    pole_pairs: int | None,
) -> Scatter:
    """`left` (n,): degrees late beside one of so many `means`; `sector_border`: as `Course.border`.

    One border meets three sensors, two sectors apart. With which of them it begins the signals do not say: with the one
    that leaves most to the borders.
    """
    borders = 2 * pole_pairs if pole_pairs else inf
    tried = [_of_poles(sector_border - first, borders) for first in range(_SENSORS)]
    border = max(tried, key=lambda each: _between(each, left * way))
    met, between = int(border.max()) + 1, _between(border, left * way)
    borders_dof = max(met - _WIDTHS, 1)
    edges_dof = max(left.size - means - borders_dof, 1)
    each = (float(left @ left) - between) / edges_dof
    more = (between / borders_dof - each) * met / left.size
    return Scatter(border, way, borders, sqrt(max(more, 0.0)), sqrt(max(each, 0.0)), borders_dof, edges_dof)


def _of_poles(sector_border: NDArray[np.int64], borders: float) -> NDArray[np.int64]:
    """The border of two poles of each border of two sectors, numbered from 0; every third begins another."""
    pole = (sector_border - 2 * (2 * sector_border % _SENSORS)) // _SENSORS
    if borders < inf:
        pole %= int(borders)
    return np.asarray(np.unique(pole, return_inverse=True)[1], dtype=np.int64)


def _between(border: NDArray[np.int64], left: NDArray[np.float64]) -> float:
    """Sum of squares that the means of borders explain."""
    return float((np.bincount(border, left) ** 2 / np.bincount(border)).sum())
