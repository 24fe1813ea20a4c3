"""Amplitudes of harmonics at their own frequency, from one transform of a window of any length.

A whole window is transformed once; each harmonic is read at the nearest line and all of them are solved for
together, so that what one leaks onto another is taken out exactly. That costs less than cutting the window to whole
cycles, whose length may be a large prime. Knows no motor and no channel.
"""

import numpy as np
from numpy.typing import NDArray

LINES_MIN = 2.0  # the weighting's main lobe is two lines wide on each side: closer neighbours cannot be told apart
_FAR_APART = 8.0  # lines from one harmonic to the next: from here on each round leaves less than 1/500 of the error,
_ROUNDS = 3  # so these leave less than 1e-11 of the largest harmonic


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
    """
    k = np.arange(1, orders + 1)
    nearest = np.rint(k * cycles)
    off = k * cycles - nearest
    off[np.abs(off) < 1e-12] = 1e-12
    systems = np.empty((2, orders, orders))
    np.add(nearest, -nearest[:, np.newaxis], out=systems[0])
    np.add(nearest, nearest[:, np.newaxis], out=systems[1])
    systems += off
    kernels = systems * systems  # in place from here on, for they are large
    np.subtract(1.0, kernels, out=kernels)
    kernels *= systems
    np.divide(np.sin(np.pi * off) / np.pi, kernels, out=kernels)
    np.add(kernels[0], kernels[1], out=systems[0])
    np.subtract(kernels[0], kernels[1], out=systems[1])
    at = nearest.astype(np.intp)
    seen = hann_lines(spectrum, samples, at).T
    solve = np.linalg.solve if cycles < _FAR_APART else _solved_by_rounds
    real, imaginary = solve(systems, np.array((seen.real, seen.imag)))
    turned: NDArray[np.complex128] = (real + 1j * imaginary).T
    turned *= 1.0 - 2.0 * (at & 1)
    return turned


def _solved_by_rounds(systems: NDArray[np.float64], seen: NDArray[np.float64]) -> NDArray[np.float64]:
    """As `numpy.linalg.solve` in half the time, where little leaks from one harmonic onto another (Jacobi's method)."""
    own = 1.0 / np.einsum("kii->ki", systems)[..., np.newaxis]
    found: NDArray[np.float64] = seen * own
    for _ in range(_ROUNDS):
        found += own * (seen - systems @ found)
    return found
