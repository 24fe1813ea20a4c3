"""Frequency of the fundamental of one channel, from the weighted transform of a window.

Assumes a steady waveform; `Tone.misfit` says how far that was from true. Knows no motor and no channel. Numbers are
taken one by one where there are only three of them: an array would cost more than what it holds.
"""

from dataclasses import dataclass
from math import pi, sin, sqrt

import numpy as np
from numpy.typing import NDArray

from server.signals.spectrum import LINES_MIN, hann_lines, hann_mean, phasors

_MANY_CYCLES = 8.0  # from here on harmonics are so far away that a square wave's move 50 Hz by under 50 uHz
_ROUNDS_AT_MANY = 2  # of taking out the mirror image alone; a third changes nothing by 1 uHz
_ROUNDS_AT_FEW = 8  # of taking out everything; at two cycles each round leaves a sixth of the error
_ORDERS = 7  # harmonics that are taken out where cycles are few


@dataclass(frozen=True, slots=True)
class Tone:
    """A fundamental: cycles in the window, its RMS, and how far its lines are from a steady sine's (0: not at all)."""

    cycles: float
    rms: float
    misfit: float


def find_tone(spectrum: NDArray[np.complex128], samples: int, cycles_max: float) -> Tone | None:
    """The strongest component of one channel with LINES_MIN to `cycles_max` cycles in the window; None: all is zero.

    `spectrum`: one row of `transform` of so many samples. Three Hann-weighted lines round the peak give the frequency
    of a lone sine in closed form (by the ratios of K in `phasors`; as interpolation of the weighted transform, Rife and
    Vincent 1970, from memory). What its mirror image leaks onto the three is taken out first; where cycles are few,
    what mean and harmonics leak too.
    """
    last = min(int(cycles_max), spectrum.shape[0] - 3)
    first = int(LINES_MIN)
    if last < first:
        return None
    searched = hann_lines(spectrum, samples, slice(first - 1, last + 2))  # and a neighbour on each side
    index = 1 + int(np.abs(searched[1:-1]).argmax())
    below, middle, above = searched[index - 1 : index + 2].tolist()
    if middle == 0:
        return None
    peak = first - 1 + index
    sign = -1.0 if peak & 1 else 1.0
    seen = [-sign * below, sign * middle, -sign * above]  # turned to the window's middle
    tone = Tone(_from_three(peak, abs(below), abs(middle), abs(above), cycles_max), 0.0, 0.0)
    many = tone.cycles > _MANY_CYCLES
    for _ in range(_ROUNDS_AT_MANY if many else _ROUNDS_AT_FEW):
        leaked = [0j, 0j, 0j] if many else _leaked(spectrum, samples, peak, tone.cycles)
        tone = _refined(seen, leaked, peak, tone.cycles, cycles_max)
    return tone


def _from_three(peak: int, below: float, middle: float, above: float, cycles_max: float) -> float:
    """Cycles from the lines of a lone sine: the upper neighbour is (1 + e) / (2 - e) of a peak that lies e too low."""
    cycles = peak + 2.0 * (above - below) / (below + 2.0 * middle + above)
    return min(max(cycles, LINES_MIN), max(cycles_max, LINES_MIN))


def _refined(seen: list[complex], leaked: list[complex], peak: int, cycles: float, cycles_max: float) -> Tone:
    """The tone without what leaks onto its three lines: as told in `leaked`, and its own mirror image."""
    direct, mirrored = _kernel(peak - cycles), _kernel(peak + cycles)
    middle = seen[1] - leaked[1]
    phasor = (direct * middle - mirrored * middle.conjugate()) / (direct * direct - mirrored * mirrored)
    alone = [
        line - other - phasor.conjugate() * _kernel(peak + k + cycles)
        for k, line, other in zip((-1, 0, 1), seen, leaked, strict=True)
    ]
    below, above = alone[0] / alone[1], alone[2] / alone[1]
    cycles = _from_three(peak, below.real, 1.0, above.real, cycles_max)
    off = cycles - peak
    misfit = max(abs(below - (1.0 - off) / (2.0 + off)), abs(above - (1.0 + off) / (2.0 - off)))
    return Tone(cycles, abs(phasor), misfit)


def _kernel(offset: float) -> float:
    """The Hann window's transform at `offset` lines, its middle as origin, 1 at 0."""
    below = offset * (1.0 - offset * offset)
    if abs(below) < 1e-9:
        return 1.0 if abs(offset) < 0.5 else 0.5
    return sin(pi * offset) / (pi * below)


def _leaked(spectrum: NDArray[np.complex128], samples: int, peak: int, cycles: float) -> list[complex]:
    """What mean and harmonics put on the three lines round the peak."""
    orders = min(_ORDERS, int((spectrum.shape[0] - 2) / cycles))
    found = phasors(spectrum[np.newaxis], samples, cycles, orders)[0].tolist()
    leaked = [0j, 0j, 0j]
    for k, a in enumerate(found[1:], 2):
        for at, line in enumerate((peak - 1, peak, peak + 1)):
            leaked[at] += a * _kernel(line - k * cycles) + a.conjugate() * _kernel(line + k * cycles)
    if peak == int(LINES_MIN):  # the mean reaches line 1
        own = sum(2.0 * a.real * _kernel(k * cycles) for k, a in enumerate(found, 1))
        leaked[0] += 0.5 * (sqrt(2.0) * hann_mean(spectrum, samples) - own)
    return leaked
