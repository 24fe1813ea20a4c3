"""Frequency of the fundamental of one channel, from the weighted transform of a window.

Assumes a steady waveform; `Tone.misfit` says how far that was from true. Knows no motor and no channel.
"""

from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from server.signals.spectrum import LINES_MIN, phasors

_ORDERS = 7  # harmonics whose leakage onto the fundamental is taken out; order 9 at 10 % moves 50 Hz by under 1 uHz
_ROUNDS = 2  # each takes out what is left of the leakage; from the second on nothing changes in 50 Hz by 1 uHz


@dataclass(frozen=True, slots=True)
class Tone:
    """A fundamental: cycles in the window, its RMS, and how much of it does not fit a steady sine (0..1)."""

    cycles: float
    rms: float
    misfit: float


def find_tone(spectrum: NDArray[np.complex128], cycles_max: float) -> Tone | None:
    """The strongest component of one channel with LINES_MIN to `cycles_max` cycles in the window; None: all is zero.

    `spectrum` as one row of `server.signals.lines`. Three lines round the peak give the frequency in closed form for
    a lone sine (Belega and Dallet 2009, Measurement 42, eq. 8, from memory); what its mirror image, the mean and the
    harmonics leak onto them is taken out first, by the same solution that reads the harmonics.
    """
    last = min(int(cycles_max), spectrum.shape[0] - 3)
    first = int(LINES_MIN)
    if last < first:
        return None
    power = np.square(spectrum[: last + 2].view(np.float64)).reshape(-1, 2).sum(axis=1)
    peak = first + int(power[first : last + 1].argmax())
    if not power[peak] > 0.0:
        return None
    below, middle, above = sqrt(power[peak - 1]), sqrt(power[peak]), sqrt(power[peak + 1])
    cycles = _from_three(peak, below / middle, above / middle, cycles_max)
    row, near = spectrum[np.newaxis], np.arange(peak - 1, peak + 2)
    for _ in range(_ROUNDS):
        orders = max(1, min(_ORDERS, int((spectrum.shape[0] - 2) / cycles)))
        found = phasors(row, cycles, orders)[0]
        alone = _without_leakage(spectrum, near, found, cycles)
        ratios = alone / alone[1]
        cycles = _from_three(peak, float(ratios[0].real), float(ratios[2].real), cycles_max)
    return Tone(cycles, float(abs(found[0])), float(np.abs(ratios.imag).max()))


def _from_three(peak: int, below: float, above: float, cycles_max: float) -> float:
    cycles = peak + 2.0 * (above - below) / (below + 2.0 + above)
    return min(max(cycles, LINES_MIN), max(cycles_max, LINES_MIN))


def _kernel(offset: NDArray[np.float64]) -> NDArray[np.float64]:
    """The Hann window's transform at `offset` lines, its middle as origin, 1 at 0."""
    below = offset * (1.0 - offset * offset)
    flat = np.abs(below) < 1e-9
    smooth = np.sin(np.pi * offset) / (np.pi * np.where(flat, 1.0, below))
    return np.where(flat, np.where(np.abs(offset) < 0.5, 1.0, 0.5), smooth)


def _without_leakage(
    spectrum: NDArray[np.complex128], near: NDArray[np.intp], found: NDArray[np.complex128], cycles: float
) -> NDArray[np.complex128]:
    """The lines `near` the peak less all that is not the fundamental's own, turned to the window's middle."""
    orders = np.arange(1, found.shape[0] + 1) * cycles
    mirrored = _kernel(near[:, np.newaxis] + orders) @ found.conj()
    direct = _kernel(near[:, np.newaxis] - orders[1:]) @ found[1:]
    seen = spectrum[near] * np.where(near & 1, -1.0, 1.0)
    if near[0] == 1:  # the mean reaches one line
        own = 2.0 * float(_kernel(-orders) @ found.real)
        seen[0] -= 0.5 * (spectrum[0].real - own)
    alone: NDArray[np.complex128] = seen - mirrored - direct
    return alone
