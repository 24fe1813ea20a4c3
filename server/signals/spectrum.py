"""Amplitudes of harmonics at their own frequency, from one transform of a window of any length.

A whole window is transformed once; each harmonic is read at the nearest line and all of them are solved for
together, so that what one leaks onto another is taken out exactly. That costs less than cutting the window to whole
cycles, whose length may be a large prime. Knows no motor and no channel.
"""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

LINES_MIN = 2.0  # the weighting's main lobe is two lines wide on each side: closer neighbours cannot be told apart
_NOISE_STEP = 0.01  # of the distance from a line: within 0.3 %
_LINE_STEP = 1e-3  # of the distance from a line: nearer the slope is nothing
_FAR_APART = 8.0  # lines from one harmonic to the next: from here on three lines of each are read, and each round
_ROUNDS = 3  # leaves less than 1/300 of the error, so these leave less than 1e-10 of the largest harmonic
_FIVE = np.arange(-2, 3)[:, np.newaxis]


def transform(values: NDArray[np.float64]) -> NDArray[np.complex128]:
    """Transform of `values` (channels, samples), not weighted: (channels, samples // 2 + 1)."""
    spectrum: NDArray[np.complex128] = np.fft.rfft(values)
    return spectrum


def hann_lines(spectrum: NDArray[np.complex128], samples: int, at: NDArray[np.intp] | slice) -> NDArray[np.complex128]:
    """Lines `at` of the Hann-weighted transform, in RMS of a sine, from the plain one of `samples` samples.

    The periodic Hann window is 1 - cos, so its weighting is three neighbours added up (Harris 1978, Proc. IEEE 66,
    p. 62, from memory); done here, on the few lines that are read, it spares a weighted copy of the window. Lines
    from 1 to the last but one; as a slice with start and stop.
    """
    if isinstance(at, slice):
        below, above = slice(at.start - 1, at.stop - 1), slice(at.start + 1, at.stop + 1)
        weighted = spectrum[..., at] - 0.5 * (spectrum[..., below] + spectrum[..., above])
    else:
        lines = [spectrum.take(at + k, axis=-1) for k in (-1, 0, 1)]  # a quarter of the time of spectrum[..., at]
        weighted = lines[1] - 0.5 * (lines[0] + lines[2])
    weighted *= np.sqrt(2.0) / samples
    return weighted


def hann_mean(spectrum: NDArray[np.complex128], samples: int) -> float:
    """Hann-weighted mean of one channel, from its plain transform."""
    return float((spectrum[0] - spectrum[1]).real) / samples


def phasors(spectrum: NDArray[np.complex128], samples: int, cycles: float, orders: int) -> NDArray[np.complex128]:
    """RMS phasors of orders 1..`orders` of a fundamental with `cycles` cycles in the window of `samples` samples.

    `spectrum` as from `transform`, shape (channels, lines); result (channels, orders). The angle is that of a cosine
    at the middle of the window. `cycles` must be at least LINES_MIN and `orders * cycles` at most lines - 3: nearer
    to half the rate an order and its mirror image beyond cannot be told apart.

    With m_k the line nearest to k * cycles and e_k = k * cycles - m_k, a Hann-weighted window of RMS phasors a_k reads
    (-1)^m_i times the sum over k of a_k K(m_i - k cycles) + conj(a_k) K(m_i + k cycles) at line m_i, where
    K(d) = sinc(d) / (1 - d^2) is the window's own transform. K is real, so real and imaginary parts are two real
    systems. The mean does not appear: K is zero at whole d beyond 1.

    From _FAR_APART cycles on the line below and the line above m_i are read with it (`_beside`). White noise then moves
    a phasor by 1.12 to 1.23 times the least possible, where the nearest line alone lets up to 1.45 times through.
    """
    k = np.arange(1, orders + 1)
    nearest = np.rint(k * cycles)
    off = k * cycles - nearest
    off[np.abs(off) < 1e-12] = 1e-12
    offsets = np.empty((2, orders, orders))  # of order k above line m_i, and below it of its mirror image
    np.add(nearest, -nearest[:, np.newaxis], out=offsets[0])
    np.add(nearest, nearest[:, np.newaxis], out=offsets[1])
    offsets += off
    at = nearest.astype(np.intp)
    if cycles < _FAR_APART:
        seen, kernels = hann_lines(spectrum, samples, at), _of_one_line(offsets)
    else:
        both, more = _beside(off)
        seen = _three_lines(spectrum, samples, at, both, more)
        kernels = _of_three_lines(offsets, both, more)
    kernels *= np.sin(np.pi * off) / np.pi
    systems = offsets  # no longer needed
    np.add(kernels[0], kernels[1], out=systems[0])
    np.subtract(kernels[0], kernels[1], out=systems[1])
    parts = np.array((seen.real.T, seen.imag.T))
    real, imaginary = np.linalg.solve(systems, parts) if cycles < _FAR_APART else _solved_by_rounds(systems, parts)
    turned: NDArray[np.complex128] = (real + 1j * imaginary).T
    turned *= 1.0 - 2.0 * (at & 1)
    return turned


def phasor_noise(cycles: float) -> float:
    """How many times the least possible white noise moves size and angle of a fundamental with so many cycles, read by
    `phasors`: noise of s a sample leaves this times s / sqrt(samples) in each direction of its RMS phasor."""
    return float(_noises(cycles < _FAR_APART)[round(abs(cycles - round(cycles)) / _NOISE_STEP)])


def phasor_noises(cycles: float, orders: int) -> NDArray[np.float64]:
    """The same of orders 1 to `orders` of a fundamental with so many cycles, (orders,)."""
    at = np.arange(1, orders + 1) * cycles
    noises: NDArray[np.float64] = _noises(cycles < _FAR_APART)[
        np.rint(np.abs(at - np.rint(at)) / _NOISE_STEP).astype(np.intp)
    ]
    return noises


def phasor_slopes(cycles: float, orders: int) -> NDArray[np.float64]:
    """By how much the sizes of orders 1 to `orders`, as `phasors` reads them, change where `cycles` is wrong: relative,
    for each line by which the order is misplaced, (orders,). Three lines are level, one is not."""
    if cycles >= _FAR_APART:
        return np.zeros(orders)
    off = np.arange(1, orders + 1) * cycles
    off -= np.rint(off)
    off[np.abs(off) < _LINE_STEP] = _LINE_STEP
    slopes: NDArray[np.float64] = 1.0 / off - np.pi / np.tan(np.pi * off) - 2.0 * off / (1.0 - off * off)
    return slopes


@lru_cache
def _noises(one_line: bool) -> NDArray[np.float64]:
    """By the distance from the nearest line in steps, 0 to half a line; on either side of it they are the same."""
    off = np.linspace(0.0, 0.5, round(0.5 / _NOISE_STEP) + 1)
    off[0] = 1e-12
    if one_line:
        squares, kernel = np.full(off.shape, 1.5), _of_one_line(off)
    else:
        both, more = _beside(off)
        squares = np.square(_plain_weights(both, more)).sum(axis=0)
        kernel = np.diagonal(_of_three_lines(np.broadcast_to(off, (2, *off.shape * 2)).copy(), both, more)[0])
    noises: NDArray[np.float64] = np.sqrt(squares) / (kernel * np.sin(np.pi * off) / np.pi)
    return noises


def _of_one_line(offsets: NDArray[np.float64]) -> NDArray[np.float64]:
    """pi K / sin. In place from the second step on, for the arrays are large."""
    kernels = offsets * offsets
    np.subtract(1.0, kernels, out=kernels)
    kernels *= offsets
    return np.divide(1.0, kernels, out=kernels)


def _beside(off: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Sum and difference (above less below) of the weights of the two lines beside the nearest one, whose weight is 1.

    The difference makes the three kernels together level at `off`, to a hundred thousandth: so an amplitude that grows
    evenly in the window, or a frequency taken a little wrong, does not turn or change what is read (to first order).
    The sum is then near the one that lets the least noise through. Both are fits.
    """
    squares = off * off
    more = -1.63902839 * squares
    for coefficient in (-1.11845938, -0.75395205):
        more += coefficient
        more *= squares
    more += -1.81317351
    more *= off
    return 2.0 / 3.0 - 2.0 * squares, more


def _plain_weights(both: NDArray[np.float64], more: NDArray[np.float64]) -> NDArray[np.float64]:
    """Of the five lines of the plain transform that the three Hann lines consist of."""
    below, above = 0.5 * (both - more), 0.5 * (both + more)
    return np.array((-0.5 * below, below - 0.5, 1.0 - 0.5 * both, above - 0.5, -0.5 * above))


def _three_lines(
    spectrum: NDArray[np.complex128],
    samples: int,
    at: NDArray[np.intp],
    both: NDArray[np.float64],
    more: NDArray[np.float64],
) -> NDArray[np.complex128]:
    """The three Hann lines round each of `at`, weighted and added: five of the plain transform."""
    weights = _plain_weights(both, more)
    lines = spectrum.take(at + _FIVE, axis=-1)
    lines *= weights * (np.sqrt(2.0) / samples)
    seen: NDArray[np.complex128] = lines.sum(axis=-2)
    return seen


def _of_three_lines(
    offsets: NDArray[np.float64], both: NDArray[np.float64], more: NDArray[np.float64]
) -> NDArray[np.float64]:
    """pi / sin times the three kernels K weighted and added, on their common denominator. `offsets` is used up."""
    squares = offsets * offsets
    kernels = offsets * (1.0 + both)[:, np.newaxis]
    kernels += np.array((3.0 * more, -3.0 * more))[..., np.newaxis]  # of a mirror image the lines stand reversed
    kernels *= offsets
    kernels += (2.0 * both - 4.0)[:, np.newaxis]
    offsets *= squares - 4.0
    np.subtract(1.0, squares, out=squares)
    offsets *= squares
    kernels /= offsets
    return kernels


def _solved_by_rounds(systems: NDArray[np.float64], seen: NDArray[np.float64]) -> NDArray[np.float64]:
    """As `numpy.linalg.solve` in half the time, where little leaks from one harmonic onto another (Jacobi's method)."""
    own = np.einsum("kii->ki", systems)
    first: NDArray[np.float64] = seen / own[..., np.newaxis]
    systems /= -own[..., np.newaxis]
    own[...] = 0.0
    found = first
    for _ in range(_ROUNDS):
        found = systems @ found
        found += first
    return found
