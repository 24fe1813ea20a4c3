"""How loud what is no harmonic is, from the transform of a window. Knows no motor and no channel."""

from math import log

import numpy as np
from numpy.typing import NDArray

from server.signals.spectrum import hann_lines

APART_MIN = 5.0  # lines from one harmonic to the next: nearer, a line between them holds mostly what leaks from them
_LINE = 3.0  # a Hann line of white noise has 3 / samples times its mean square: 2 / samples**2, times 1.5 samples

_MIDDLE = log(2.0)  # of their mean: the median of squares that are exponentially distributed, as those of noise
_WIDE = 1.5  # lines: as much noise as so many of an unweighted window is on each Hann line
LINES_MAX = 25  # that are read: more would tell the noise little better than to a tenth
_ALIKE = 35 / 18  # lines whose squares tell as much as one that stands alone: neighbours overlap (Harris 1978, p. 54)
_BY_THE_MIDDLE = 2.08  # variance of a mean square told by its median, over that told by its mean: 1 / ln(2)^2


def residual_noise(
    spectrum: NDArray[np.complex128], samples: int, cycles: float, orders: NDArray[np.complex128]
) -> tuple[NDArray[np.float64], NDArray[np.float64], int]:
    """RMS of what is left beside the harmonics, (channels,), as if it were white; the same by the middle of the lines,
    which a few loud ones do not lift; and its degrees of freedom.

    `spectrum` as from `transform`, `orders` as from `phasors`; `cycles` at least APART_MIN and two orders or more. Read
    on one line in the middle between two neighbours, at most some LINES_MAX of them, from which what the harmonics leak
    is taken away: lines `cycles` apart do not depend on each other, and each has a real and an imaginary part.
    """
    count = orders.shape[1]
    k = np.arange(1, count + 1) * cycles
    at = np.rint(k[: -1 : 1 + count // LINES_MAX] + 0.5 * cycles).astype(np.intp)
    seen = hann_lines(spectrum, samples, at) * (1.0 - 2.0 * (at & 1))
    # sin(pi (m - k)) is sin(pi k) but for a sign that goes with m, and so is that of the mirror image.
    turned = orders * (np.sin(np.pi * k) / np.pi)
    leaked = turned.conj() @ _below(at + k[:, np.newaxis]) - turned @ _below(at - k[:, np.newaxis])
    left = seen - leaked * (1.0 - 2.0 * (at & 1))
    squares = left.real**2 + left.imag**2
    noise: NDArray[np.float64] = np.sqrt(squares.mean(axis=1) * (samples / _LINE))
    middle = np.partition(squares, at.shape[0] // 2, axis=1)[:, at.shape[0] // 2]
    return noise, np.sqrt(middle * (samples / _LINE / _MIDDLE)), 2 * at.shape[0]


def noise_between(
    spectrum: NDArray[np.complex128], samples: int, first: int, end: int, pieces: int
) -> tuple[float, float]:
    """RMS of one channel's noise on the lines from `first` to before `end`, and its degrees of freedom.

    The band is cut into pieces, and in each the middle of the lines' squares tells the noise: lines that stand out of
    it, such as those of anything that turns, do not count as long as they fill less than a third of a piece.
    """
    size = (end - first) // pieces
    lines = hann_lines(spectrum, samples, slice(first, first + size * pieces)).reshape(pieces, size)
    squares = np.partition(lines.real**2 + lines.imag**2, size // 2, axis=1)[:, size // 2]
    total = float(squares.sum()) / _MIDDLE * (end - first) / pieces / _WIDE
    return total**0.5, (end - first) / _ALIKE * 2.0 / _BY_THE_MIDDLE


def _below(offset: NDArray[np.float64]) -> NDArray[np.float64]:
    """pi K / sin of the Hann window's transform at `offset` lines, none of which is near -1, 0 or 1."""
    below = offset * offset
    np.subtract(1.0, below, out=below)
    below *= offset
    return np.divide(1.0, below, out=below)
