"""Frequency of the fundamental of one channel, from the weighted transform of a window.

Assumes a steady waveform; `Tone.misfit` says how far that was from true. Knows no motor and no channel.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from server.signals.spectrum import LINES_MIN, phasors

_ORDERS = 7  # harmonics whose leakage onto the fundamental is taken out; order 9 at 10 % moves 50 Hz by under 1 uHz
_FEW_CYCLES = 4.0  # from here on one round leaves under 1 uHz at 200 ms; below, the mirror image leaks strongly
_ROUNDS_AT_FEW = 8  # at two cycles each round leaves a sixth of the error


@dataclass(frozen=True, slots=True)
class Tone:
    """A fundamental: cycles in the window, its RMS, and how far its lines are from a steady sine's (0: not at all)."""

    cycles: float
    rms: float
    misfit: float


def find_tone(spectrum: NDArray[np.complex128], cycles_max: float) -> Tone | None:
    """The strongest component of one channel with LINES_MIN to `cycles_max` cycles in the window; None: all is zero.

    `spectrum` as one row of `server.signals.lines`. Three lines round the peak give the frequency of a lone sine in
    closed form (from the ratios of K in `phasors`; known as interpolation of the Hann-weighted transform, Rife and
    Vincent 1970, from memory). What mirror image, mean and harmonics leak onto the three is taken out first, by the
    same solution that reads the harmonics.
    """
    last = min(int(cycles_max), spectrum.shape[0] - 3)
    first = int(LINES_MIN)
    if last < first:
        return None
    power = np.square(spectrum[: last + 2].view(np.float64)).reshape(-1, 2).sum(axis=1)
    peak = first + int(power[first : last + 1].argmax())
    if not power[peak] > 0.0:
        return None
    below, middle, above = np.sqrt(power[peak - 1 : peak + 2]).tolist()
    cycles = _from_three(peak, below / middle, above / middle, cycles_max)
    orders = max(1, min(_ORDERS, int((spectrum.shape[0] - 2) / cycles)))
    for _ in range(1 if cycles > _FEW_CYCLES else _ROUNDS_AT_FEW):
        found = phasors(spectrum[np.newaxis], cycles, orders)[0]
        alone = _without_leakage(spectrum, peak, found, cycles)
        ratio_below, ratio_above = alone[0] / alone[1], alone[2] / alone[1]
        cycles = _from_three(peak, ratio_below.real, ratio_above.real, cycles_max)
    off = cycles - peak
    misfit = max(abs(ratio_below - (1.0 - off) / (2.0 + off)), abs(ratio_above - (1.0 + off) / (2.0 - off)))
    return Tone(cycles, abs(complex(found[0])), misfit)


def _from_three(peak: int, below: float, above: float, cycles_max: float) -> float:
    """Cycles from the two neighbours' ratios to the peak line: K(1 - e) / K(e) is (1 + e) / (2 - e)."""
    cycles = peak + 2.0 * (above - below) / (below + 2.0 + above)
    return min(max(cycles, LINES_MIN), max(cycles_max, LINES_MIN))


def _kernel(offset: NDArray[np.float64]) -> NDArray[np.float64]:
    """The Hann window's transform at `offset` lines, its middle as origin, 1 at 0."""
    below = offset * (1.0 - offset * offset)
    flat = np.abs(below) < 1e-9
    smooth: NDArray[np.float64] = np.sin(np.pi * offset) / (np.pi * (below + flat))
    if flat.any():
        smooth[flat] = np.where(np.abs(offset[flat]) < 0.5, 1.0, 0.5)
    return smooth


def _without_leakage(
    spectrum: NDArray[np.complex128], peak: int, found: NDArray[np.complex128], cycles: float
) -> list[complex]:
    """The three lines round the peak less all that is not the fundamental's own, turned to the window's middle."""
    at = np.arange(1, found.shape[0] + 1) * cycles
    near = np.array([[peak - 1.0], [peak], [peak + 1.0]])
    leaked = _kernel(near + np.concatenate((at, -at[1:]))) @ np.concatenate((found.conj(), found[1:]))
    sign = -1.0 if peak & 1 else 1.0
    below, middle, above = (complex(line) for line in spectrum[peak - 1 : peak + 2])
    alone = [-sign * below - leaked[0], sign * middle - leaked[1], -sign * above - leaked[2]]
    if peak == 2:  # the mean reaches line 1
        own = 2.0 * float(_kernel(at) @ found.real)
        alone[0] -= 0.5 * (float(spectrum[0].real) - own)
    return [complex(line) for line in alone]
