"""Amplitudes of harmonics at their own frequency, from one transform of a window of any length.

A whole window is weighted and transformed once; each harmonic is read at the nearest line of the transform and
all of them are solved for together, so that what one leaks onto another is taken out exactly. That costs less
than cutting the window to whole cycles, whose length may be a large prime. Knows no motor and no channel.
"""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

LINES_MIN = 2.0  # the weighting's main lobe is two lines wide on each side: closer neighbours cannot be told apart


@lru_cache(maxsize=16)
def _weights(count: int) -> NDArray[np.float64]:
    """Periodic Hann window, scaled so that a line reads the RMS of a sine (Harris 1978, Proc. IEEE 66, p. 60)."""
    weights: NDArray[np.float64] = (1.0 - np.cos(2.0 * np.pi * np.arange(count) / count)) * (np.sqrt(2.0) / count)
    weights.flags.writeable = False
    return weights


def lines(values: NDArray[np.float64]) -> NDArray[np.complex128]:
    """Hann-weighted transform of `values` (channels, samples): (channels, samples // 2 + 1), in RMS of a sine."""
    spectrum: NDArray[np.complex128] = np.fft.rfft(values * _weights(values.shape[-1]))
    return spectrum


def phasors(spectrum: NDArray[np.complex128], cycles: float, orders: int) -> NDArray[np.complex128]:
    """RMS phasors of orders 1..`orders` of a fundamental with `cycles` cycles in the window.

    `spectrum` as from `lines`, shape (channels, lines); result (channels, orders). The angle is that of a cosine
    at the middle of the window. `cycles` must be at least LINES_MIN and `orders * cycles` at most lines - 2.

    With m_k the line nearest to k * cycles and e_k = k * cycles - m_k, a window of RMS phasors a_k gives at line m_i
    (-1)^m_i sum over k of a_k K(m_i - k cycles) + conj(a_k) K(m_i + k cycles), K(d) = sinc(d) / (1 - d^2), which is
    real: real and imaginary parts are two real systems. The mean does not appear: K is zero at whole d beyond 1.
    """
    k = np.arange(1, orders + 1)
    nearest = np.rint(k * cycles)
    off = k * cycles - nearest
    off[np.abs(off) < 1e-12] = 1e-12
    systems = np.empty((2, orders, orders))
    np.add(nearest, -nearest[:, np.newaxis], out=systems[0])
    np.add(nearest, nearest[:, np.newaxis], out=systems[1])
    systems += off
    direct, mirrored = (np.sin(np.pi * off) / np.pi) / (systems * (1.0 - systems * systems))
    np.add(direct, mirrored, out=systems[0])
    np.subtract(direct, mirrored, out=systems[1])
    at = nearest.astype(np.intp)
    seen = spectrum[:, at].T
    real, imaginary = np.linalg.solve(systems, np.array((seen.real, seen.imag)))
    turned: NDArray[np.complex128] = (real + 1j * imaginary).T * np.where(at & 1, -1.0, 1.0)
    return turned
