"""A weak line beside stronger ones: where lines stand out of the noise, and the frequency of one of them. Pure.

Assumes lines several apart and a plain transform of the whole window. Knows no motor and no channel.
"""

from dataclasses import dataclass
from math import pi, sqrt

import numpy as np
from numpy.typing import NDArray

from server.signals.spectrum import hann_lines

STANDS_OUT = 27.0  # times the median power round it: of 2000 lines of white noise one does in 800 windows (measured)
_BLOCK = 64  # lines over which the noise is taken as even
_REACH = 6  # lines on each side of one that is fitted
_ROUNDS = 2
_ORDERS_MAX = 40.5  # harmonics of a supply beyond this order are too small to matter (common practice)


@dataclass(frozen=True, slots=True)
class Line:
    """A line at so many cycles in the window, known to within `standard` with `dof`; its RMS."""

    cycles: float
    standard: float
    dof: int
    rms: float


def prominence(spectrum: NDArray[np.complex128], samples: int) -> NDArray[np.float64]:
    """Power of each Hann-weighted line of a plain transform (lines,) over the median of those round it: (lines,).

    Lines 0 and last are 0, and so are all of a transform that holds nothing.
    """
    power = np.zeros(spectrum.shape[0])
    lines = hann_lines(spectrum, samples, slice(1, spectrum.shape[0] - 1))
    np.add(np.square(lines.real), np.square(lines.imag), out=power[1:-1])
    blocks = max(power.shape[0] // _BLOCK, 1)
    length = power.shape[0] // blocks
    floors = np.median(power[: blocks * length].reshape(blocks, length), axis=1)
    floor = np.repeat(floors, length)
    floor = np.concatenate((floor, np.full(power.shape[0] - floor.shape[0], floors[-1])))
    out: NDArray[np.float64] = np.divide(power, floor, out=np.zeros_like(power), where=floor > 0)
    return out


def peaks(
    above: NDArray[np.float64], low: float, high: float, most: int, supply: float, beside: float
) -> NDArray[np.intp]:
    """Lines from `low` to `high` that stand out and are the highest of their neighbours: the `most` highest of them.

    Without those nearer than `beside` lines to a multiple of `supply`, where that is not 0, up to the 40th.
    """
    first, last = max(int(low), 1), int(min(high + 1.0, above.shape[0] - 3.0))
    if last <= first:
        return np.zeros(0, dtype=np.intp)
    inside = above[first : last + 1]
    is_peak = (inside > STANDS_OUT) & (inside >= above[first - 1 : last]) & (inside > above[first + 1 : last + 2])
    found = np.flatnonzero(is_peak)
    if supply:
        orders = (found + first) / supply
        found = found[(np.abs(orders - np.rint(orders)) * supply > beside) | (orders > _ORDERS_MAX)]
    if found.shape[0] > most:
        found = found[np.argsort(inside[found])[-most:]]
    return np.sort(found) + first


def near_line(above: NDArray[np.float64], at: NDArray[np.intp]) -> NDArray[np.float64]:
    """Cycles of the lines `at`, to a few hundredths of a line: from three Hann-weighted lines as of a lone sine."""
    below, middle, beyond = (np.sqrt(above[at + k]) for k in (-1, 0, 1))
    cycles: NDArray[np.float64] = at + 2.0 * (beyond - below) / (below + 2.0 * middle + beyond)
    return cycles


def fit_line(spectrum: NDArray[np.complex128], samples: int, near: float) -> Line | None:
    """The line at about `near` cycles, from 13 lines of a plain transform (lines,), by least squares.

    Unknown are its phasor, its frequency and what lines far away leak here, which changes sign from line to line and is
    smooth but for that. Not weighted, so that nearly all that the window knows of the frequency is used. None where
    13 lines are not there or the fit runs away.
    """
    middle = round(near)
    if middle - _REACH < 1 or middle + _REACH > spectrum.shape[0] - 1:
        return None
    at = np.arange(middle - _REACH, middle + _REACH + 1)
    seen = spectrum[at] * np.exp(1j * pi * (samples - 1) / samples * at)  # the window's middle as origin
    seen *= 1.0 - 2.0 * (at & 1)
    seen = _SMOOTH_OUT @ seen
    cycles = near
    for _ in range(_ROUNDS):
        table = _SMOOTH_OUT @ _kernel(cycles, at, samples)
        (own, mixed), (_, slopes) = (table.T @ table).tolist()
        of_kernel, of_slope = (table.T @ seen).tolist()
        determinant = own * slopes - mixed * mixed
        phasor = (of_kernel * slopes - of_slope * mixed) / determinant
        bend = (of_slope * own - of_kernel * mixed) / determinant
        size = abs(phasor)
        step = (bend * phasor.conjugate()).real / size**2 if size > 0 else 1.0
        if not abs(step) < 1.0:
            return None
        cycles += step
    left = seen - table @ np.array((phasor, bend))
    dof = 2 * (at.shape[0] - 4)
    noise = np.vdot(left, left).real / dof  # of one real part
    return Line(cycles, sqrt(noise * own / determinant) / size, dof, sqrt(2.0) * size)


def _kernel(cycles: float, at: NDArray[np.intp], samples: int) -> NDArray[np.float64]:
    """Transform at lines `at` of a window without weights at so many cycles, and its slope, signs changing from line to
    line taken out: (lines, 2); `samples` at its peak."""
    x = pi * (cycles - at)
    x[np.abs(x) < 1e-6] = 1e-6
    y = x / samples
    below = 1.0 / np.sin(y)
    sign = 1.0 - 2.0 * (at & 1)
    table = np.empty((at.shape[0], 2))
    table[:, 0] = sign * np.sin(x) * below
    table[:, 1] = pi * (sign * np.cos(x) - table[:, 0] * np.cos(y) / samples) * below
    return table


def _without_smooth() -> NDArray[np.float64]:
    """The matrix that takes out of 13 lines what is even or goes straight up over them."""
    at = np.arange(-_REACH, _REACH + 1.0)
    out: NDArray[np.float64] = np.eye(at.shape[0]) - 1.0 / at.shape[0] - np.outer(at, at) / (at @ at)
    return out


_SMOOTH_OUT = _without_smooth()
