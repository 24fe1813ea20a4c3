"""Frequency as near as the samples allow: one step of the joint least-squares fit, from a frequency almost right.

Assumes a steady waveform whose harmonics are known. A frequency that is a little wrong shows as an angle that grows
evenly in the window, of each order in proportion; so each tells, and a harmonic of size s and order k as much as a
fundamental of size k s. Knows no motor and no channel.
"""

from functools import lru_cache
from math import sqrt

import numpy as np
from numpy.typing import NDArray

SHARPENED_CYCLES_MIN = 8.0  # below, orders are so near to each other that one step is not enough
_TELLING = 0.05  # of the order that tells the most: all that tell less could add an eighth at most
_PRESENT = 0.005  # of the largest order: what is smaller may be noise
_SECOND = -0.35  # of the second sine in the weighting
_BLOCK = 64  # samples: angles are worked out for one block and for the blocks' first samples, and multiplied


def sharpened(values: NDArray[np.float64], cycles: float, found: NDArray[np.complex128]) -> tuple[float, float]:
    """Cycles in the window of `values`, from `cycles` almost right and the RMS phasors `found` of its orders; and the
    RMS of a lone sine that would tell as much of them as fundamental and harmonics together.

    Each order is turned back to stand still and weighted with s(t) = sin(2 pi t) - 0.35 sin(4 pi t), -1/2 < t < 1/2.
    It stands for the ramp t of least squares, but fades out at the window's ends: white noise then moves the frequency
    by 1.16 times the Cramer-Rao bound of fundamental and harmonics together, and what is not of this model, such as
    an interharmonic, leaks but with the square of its distance. What the other orders, their mirror images and the
    mean leak is taken out. s is odd: a steady drift of the frequency leaves that of the window's middle, and an even
    growth of the amplitude changes nothing.
    """
    count, n = values.size, found.size
    every, places, ramp, level = _constants(count, n)
    turned = found * np.exp((-1j * np.pi * cycles / count) * every[:n])  # to the middle of the samples
    sizes = np.abs(found)
    tells = sizes * every[:n]
    k = 1 + np.flatnonzero((tells >= _TELLING * tells.max()) & (sizes >= _PRESENT * sizes.max()))
    away = cycles * every
    leaks, sums = _leaks(away, count)
    mean = (np.sqrt(2.0) * values.sum() - 2.0 * (turned.real @ sums[:n])) / count
    lines = np.concatenate((turned[::-1].conj(), (mean,), turned))  # orders -n to n
    seen = _still(values, ramp, np.multiply.outer(places, away[k - 1] * (2.0 * np.pi / count)))
    seen -= leaks[np.arange(n, 3 * n + 1) - k[:, np.newaxis]] @ lines
    told = float(np.square(tells[k - 1]).sum())
    step = ((k * turned[k - 1].conj()) @ seen).real / (level * told)
    return cycles + float(step), sqrt(told)


@lru_cache(maxsize=16)
def _constants(count: int, orders: int) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64], float]:
    """Orders to twice the highest; places in a block, then of the blocks; the weighting s of a window of so many
    samples; and its level: what it lets through of a wave of d turns in the window, over d, for d to 0."""
    t = (np.arange(count) - (count - 1) / 2) / count
    ramp = np.sin(2 * np.pi * t) + _SECOND * np.sin(4 * np.pi * t)
    first = np.arange(-(-count // _BLOCK)) * _BLOCK - (count - 1) / 2
    places = np.concatenate((np.arange(_BLOCK), first))
    return np.arange(1.0, 2 * orders + 1), places, ramp, float(2 * np.pi * (ramp @ t))


def _still(
    values: NDArray[np.float64], ramp: NDArray[np.float64], angles: NDArray[np.float64]
) -> NDArray[np.complex128]:
    """Weighted sums of values that are turned back by the angle of each order, over j and as RMS of its phasor.

    `angles`: of the places of `_constants`, one column an order.
    """
    grid = np.zeros((angles.shape[0] - _BLOCK, _BLOCK))
    np.multiply(values, ramp, out=grid.reshape(-1)[: values.size])
    real, imaginary = np.cos(angles), np.sin(angles)
    sums = grid @ real[:_BLOCK] - 1j * (grid @ imaginary[:_BLOCK])
    sums *= np.sqrt(2.0) * (-1j * real[_BLOCK:] - imaginary[_BLOCK:])
    still: NDArray[np.complex128] = sums.sum(axis=0)
    return still


def _leaks(away: NDArray[np.float64], count: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """What the weighting lets through of waves that are d lines below, at and above, d in `away`: the sums of
    s(t) sin(2 pi d t). And the sums of cos(2 pi d t), the kernel of Dirichlet, of which the others are made.

    At no distance it is 0: that is the order's own, which is sought.
    """
    angles = (np.pi / count) * away
    sines = np.sin(angles)
    sums = np.sin(np.pi * away) / sines
    squares = sines * sines
    step = np.pi / count
    above = np.sin(2 * step) * _SECOND / (squares - np.sin(2 * step) ** 2) - np.sin(step) / (
        squares - np.sin(step) ** 2
    )
    above *= np.cos(angles) * sines * sums
    return np.concatenate((-above[::-1], (0.0,), above)), sums
