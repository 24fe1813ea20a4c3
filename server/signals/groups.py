"""Groups and subgroups of spectral lines round the harmonics (IEC 61000-4-7, 5.5 and annex A, from memory). Pure."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class Groups:
    """RMS of each order, shape (rows, orders).

    `group`, order 1 first: all lines nearer to the order than to its neighbours, the ones halfway counted half.
    `subgroup`, order 1 first: the order and the line on each side. `between`, order 0 first: the centred interharmonic
    subgroup above the order, which leaves out the lines next to it and to the next one.
    """

    group: NDArray[np.float64]
    subgroup: NDArray[np.float64]
    between: NDArray[np.float64]


def orders_in(lines: int, per_order: int) -> int:
    """The highest order whose whole group is in so many lines."""
    return max(0, (lines - 1 - per_order // 2) // per_order)


def groups_of(lines: NDArray[np.complex128], per_order: int) -> Groups:
    """Of all orders of `orders_in`, from `synchronous_lines`.

    `per_order` is 10 at 50 Hz and 12 at 60 Hz; an odd one has no line halfway.
    """
    squares = lines.real**2 + lines.imag**2
    sums = np.zeros((lines.shape[0], lines.shape[1] + 1))
    np.cumsum(squares, axis=1, out=sums[:, 1:])
    at = per_order * np.arange(1, orders_in(lines.shape[1], per_order) + 1)
    half = (per_order - 1) // 2
    group = sums[:, at + half + 1] - sums[:, at - half]
    if per_order % 2 == 0:
        group += 0.5 * (squares[:, at - half - 1] + squares[:, at + half + 1])
    subgroup = sums[:, at + 2] - sums[:, at - 1]
    between = sums[:, at - 1] - sums[:, at - per_order + 2]
    return Groups(*(np.sqrt(np.maximum(each, 0.0)) for each in (group, subgroup, between)))
