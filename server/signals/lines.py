"""Spectral lines every tenth (or so) of the fundamental, from one transform of a window that is not synchronised. Pure.

A window of a fixed length holds no whole number of cycles, so its own lines lie beside the harmonics, and each harmonic
leaks onto all lines between. Here the harmonics, known already at their own frequency (`phasors`), and the mean are
first taken out of the transform as exactly as they are known; what is left holds nothing large and is read at the
wanted frequencies by a chirp transform, exactly and not by interpolation. They are put back on their own lines.
"""

from math import ceil, pi

import numpy as np
from numpy.typing import NDArray

_GUARD = 64  # lines above the highest wanted one that are kept: what lies beyond leaks less than 1/200 of itself
_OFF_MIN = 1e-7  # of a line: a harmonic nearer to one would divide nothing by nothing


def without_harmonics(
    spectrum: NDArray[np.complex128], samples: int, cycles: float, orders: NDArray[np.complex128], lines: int
) -> NDArray[np.complex128]:
    """The first `lines` of a plain transform (rows, ...) without the harmonics `orders` (rows, orders; as `phasors`).

    A cosine of RMS phasor a at f cycles in a window of N samples, its angle that at the middle, reads
    sin(pi f) / sqrt(2) times a (cot(pi (f - m) / N) - j) + conj(a) (cot(pi (f + m) / N) + j) at line m (the sum of a
    geometric series). With t = tan(pi f / N) and b = tan(pi m / N) both cotangents have t^2 - b^2 below them.
    """
    f = np.arange(1, orders.shape[1] + 1) * cycles
    nearest = np.rint(f)
    f = np.where(np.abs(f - nearest) < _OFF_MIN, nearest + _OFF_MIN, f)
    t, b = np.tan(pi / samples * f), np.tan(pi / samples * np.arange(lines))
    own = np.sqrt(2.0) * np.sin(pi * f)
    below = np.subtract.outer(t * t, b * b)
    np.divide(1.0, below, out=below)
    real = (orders.real * (own * t)) @ below
    real *= 1.0 + b * b
    real += (orders.imag @ own)[:, np.newaxis]
    imaginary = (orders.imag * (own * (1.0 + t * t))) @ below
    imaginary *= b
    left: NDArray[np.complex128] = spectrum[:, :lines] - real
    left.imag -= imaginary
    return left


def synchronous_lines(
    spectrum: NDArray[np.complex128], samples: int, cycles: float, orders: NDArray[np.complex128], per_order: int
) -> NDArray[np.complex128]:
    """RMS phasors of lines at each `per_order`-th of the fundamental, to half an order above the last: (rows, lines).

    `spectrum` as from `transform`, `orders` as from `phasors`. Line k is at k / per_order of the fundamental; of the
    orders' own lines each holds its harmonic and what else is there. Fewer lines where half the rate comes before.
    """
    step = cycles / per_order
    highest = min(orders.shape[1] * per_order + per_order // 2, int((samples // 2) / step))
    kept = min(ceil(highest * step) + _GUARD, spectrum.shape[1])
    left = without_harmonics(spectrum, samples, cycles, orders, kept)
    mean = left[:, 0].real / samples
    left[:, 0] = 0.0  # it would leak as the harmonics would
    count = samples if kept == spectrum.shape[1] else _round_length(2 * kept)
    read = chirp_lines(np.fft.irfft(left, count), step, highest + 1)
    read *= np.sqrt(2.0) / samples
    read[:, 0] = read[:, 0] / np.sqrt(2.0) + mean  # which is no sine
    at = per_order * np.arange(1, min(orders.shape[1], highest // per_order) + 1)
    read[:, at] = read[:, at] * np.exp(1j * pi * step * at) + orders[:, : at.size]
    return read


def chirp_lines(values: NDArray[np.float64], step: float, count: int) -> NDArray[np.complex128]:
    """Sums of `values` (rows, n) times exp(-2 pi j k step i / n) over i, for k = 0 to `count` - 1: (rows, count).

    Two transforms instead of n x count products (Bluestein 1970, IEEE Trans. AU-18, p. 451, from memory): k i is
    (k^2 + i^2 - (k - i)^2) / 2, so the sum is a convolution with a chirp. Two rows go together as real and imaginary
    part; what belongs to which is told by the sums for negative k.
    """
    rows, n = values.shape
    pairs = values[0::2].astype(np.complex128)
    pairs.imag[: rows // 2] = values[1::2]
    wanted = 2 * count - 1  # k from 1 - count on
    length = _round_length(n + wanted - 1)
    at = np.arange(max(n, wanted), dtype=np.float64)
    chirp = _unit(at * at * (-pi * step / n))
    back = np.zeros(length, dtype=np.complex128)
    back[:wanted] = chirp[:wanted].conj()
    back[length - n + 1 :] = chirp[n - 1 : 0 : -1].conj()
    pairs *= _unit(at[:n] * (2.0 * (count - 1) - at[:n]) * (pi * step / n))
    folded = np.fft.fft(pairs, length)
    folded *= np.fft.fft(back)
    sums = np.fft.ifft(folded)[:, :wanted] * chirp[:wanted]
    positive, negative = 0.5 * sums[:, count - 1 :], 0.5 * sums[:, count - 1 :: -1].conj()
    found = np.empty((rows, count), dtype=np.complex128)
    found[0::2] = positive + negative
    found[1::2] = -1j * (positive - negative)[: rows // 2]
    return found


def _unit(angle: NDArray[np.float64]) -> NDArray[np.complex128]:
    """exp(j angle), in a third of its time."""
    turned = np.empty(angle.shape, dtype=np.complex128)
    turned.real, turned.imag = np.cos(angle), np.sin(angle)
    return turned


def _round_length(least: int) -> int:
    """The smallest even length from `least` on with no prime factor above 5, whose transforms are quick."""
    length = least + least % 2
    while _rest(length) > 1:
        length += 2
    return length


def _rest(number: int) -> int:
    for prime in (2, 3, 5):
        while number % prime == 0:
            number //= prime
    return number
