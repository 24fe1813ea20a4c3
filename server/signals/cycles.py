"""Means over whole cycles of a window. Knows no motor and no channel."""

from dataclasses import dataclass
from math import floor

import numpy as np
from numpy.typing import NDArray

_HALF = 0.5  # of a sample: so much longer than the window may whole cycles be


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of a window, its length not whole as a rule: the `whole` samples from `first` on, and what is over at
    the seam where the next stretch would begin, -0.5 to 0.5 samples."""

    first: int
    whole: int
    over: float = 0.0

    @property
    def length(self) -> float:
        return self.whole + self.over

    @property
    def samples(self) -> slice:
        """Where its samples stand."""
        return slice(self.first, self.first + self.whole)

    @property
    def seam(self) -> NDArray[np.intp]:
        """The samples behind and before the seam, and the second ones."""
        last = self.first + self.whole - 1
        return np.array((self.first, last, self.first + 1, last - 1))

    @property
    def seam_weights(self) -> NDArray[np.float64]:
        """What these count more than 1, so that the sum is that over the broken length.

        A stretch of whole cycles goes on at its end as it began, so two samples on each side of the seam tell what is
        in a gap of 1 + over between them: what is left of a wave of angle a per sample is of the fourth order in a.
        """
        over = self.over
        near = over * ((1.0 - over * over) / 6.0 + (3.0 + over) ** 2 / 2.0) / (8.0 + 4.0 * over)
        far = over / 2.0 - near
        return np.array((near, near, far, far))


def whole_cycles(samples: int, cycles: float | None) -> Span:
    """The longest stretch in the middle of a window of `samples` that holds whole cycles; where there are none, all.

    Example: 10.06 cycles in 4000 samples: the 10 take 3976.143 samples, so 3976 from sample 12 on and 0.143 over.
    """
    turns = 0 if cycles is None else floor(cycles * (1.0 + _HALF / samples))
    if cycles is None or turns < 1:
        return Span(0, samples)
    length = samples * turns / cycles
    whole = min(round(length), samples)
    return Span((samples - whole) // 2, whole, length - whole)


@dataclass(frozen=True, slots=True)
class Means:
    """Means of a stretch: of the squares and of the values of each row, and of the product of each pair of rows."""

    squares: NDArray[np.float64]
    values: NDArray[np.float64]
    products: NDArray[np.float64]


def means(values: NDArray[np.float64], pairs: tuple[list[int], list[int]], span: Span) -> Means:
    """Means over the span of rows and, where a pair is a voltage and a current, of active powers.

    `pairs`: the first rows of all pairs, and their second rows.
    """
    head = values[:, span.samples]
    rows = list(head)
    squares, sums = np.vecdot(head, head), head.sum(axis=1)
    products = np.array([rows[one] @ rows[other] for one, other in zip(*pairs, strict=True)])
    if span.over:
        seam = values.take(span.seam, axis=1)
        weighted = seam * span.seam_weights
        squares += np.vecdot(seam, weighted)
        sums += weighted.sum(axis=1)
        products += np.vecdot(seam[pairs[0]], weighted[pairs[1]])
    length = span.length
    return Means(squares / length, sums / length, products / length)
