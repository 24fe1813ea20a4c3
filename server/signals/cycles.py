"""Means over whole cycles of a window. Knows no motor and no channel."""

from dataclasses import dataclass
from math import floor

import numpy as np
from numpy.typing import NDArray

_ALMOST_WHOLE = 1e-4  # cycles: 9.9999 count as 10, which costs an RMS value at most five parts in a million


@dataclass(frozen=True, slots=True)
class Span:
    """The first `whole` samples and the share `part` of the one after them."""

    whole: int
    part: float

    @property
    def length(self) -> float:
        return self.whole + self.part


def whole_cycles(samples: int, cycles: float | None) -> Span:
    """The longest stretch of a window of `samples` that holds whole cycles; all of it where there are no cycles.

    Example: 10.06 cycles in 4000 samples: the 10 take 3976.143 samples, so 3976 and 0.143 of the next.
    """
    if cycles is None or cycles + _ALMOST_WHOLE < 1.0:
        return Span(samples, 0.0)
    length = min(samples * floor(cycles + _ALMOST_WHOLE) / cycles, float(samples))
    whole = floor(length)
    return Span(whole, length - whole)


def mean_squares(values: NDArray[np.float64], span: Span) -> NDArray[np.float64]:
    """Mean square of each row over the span."""
    head = values[:, : span.whole]
    sums = np.vecdot(head, head)
    if span.part:
        sums += span.part * np.square(values[:, span.whole])
    squares: NDArray[np.float64] = sums / span.length
    return squares


def means(values: NDArray[np.float64], span: Span) -> NDArray[np.float64]:
    """Mean of each row over the span."""
    sums: NDArray[np.float64] = values[:, : span.whole].sum(axis=1)
    if span.part:
        sums += span.part * values[:, span.whole]
    sums /= span.length
    return sums


def mean_product(one: NDArray[np.float64], other: NDArray[np.float64], span: Span) -> float:
    """Mean of the product of two rows over the span: active power, where they are a voltage and a current."""
    total = float(one[: span.whole] @ other[: span.whole])
    if span.part:
        total += span.part * float(one[span.whole] * other[span.whole])
    return total / span.length
