"""What of a chopped wave a channel and its samples cannot carry, by what they do carry near the end. Pure.

A wave with steep edges has in the octave below an end about as much as in all that lies beyond it (its lines fall as
1 / f, their squares add up to that). A channel whose upper corner lies below half the sample rate loses what is beyond.
Without such a corner it is folded back, where it may meet whatever is measured. A carrier at a multiple of the sample
rate folds onto the mean and cannot be seen.
"""

import numpy as np
from numpy.typing import NDArray

from server.quantities.layout import Row

_SHARE = 0.15  # of the RMS: what is lost beyond then takes 1 % off it; a square wave of 50 Hz at 20 kHz has 0.045
_THERE = 0.1  # of the RMS at both ends of the window


def end_hz(row: Row, rate_hz: float) -> float:
    """The highest frequency that the row carries."""
    half, corner = 0.5 * rate_hz, row.channel.corner_high_hz
    return half if corner is None else min(corner, half)


def lasts(values: NDArray[np.float64]) -> bool:
    """Whether a row is there from the beginning to the end of the window: what comes or goes in it is a step, and the
    lines of that step are none of the wave."""
    fifth = values.shape[0] // 5
    ends = values[:fifth], values[values.shape[0] - fifth :]
    least = _THERE**2 * float(values @ values) / values.shape[0]
    return all(float(end @ end) >= least * fifth for end in ends)


def shares_near_end(
    spectrum: NDArray[np.complex128],
    values: NDArray[np.float64],
    rate_hz: float,
    rows: tuple[Row, ...],
    rms: list[float],
) -> list[float]:
    """Of each row's RMS what lies in the octave below its end and above; 0 where it could be noise or a step.
    `spectrum` as from `transform` of `values` (rows, samples)."""
    samples, shares = values.shape[1], list[float]()
    for k, row in enumerate(rows):
        if not row.wave or rms[k] < row.limit:
            shares.append(0.0)
            continue
        lines = spectrum[k, round(0.5 * end_hz(row, rate_hz) * samples / rate_hz) :]
        near = float(np.vdot(lines, lines).real * 2.0) ** 0.5 / samples
        there = near > row.limit and near >= _SHARE * rms[k] and lasts(values[k])
        shares.append(near / rms[k] if there else 0.0)
    return shares


def cut_off(share: float, row: Row, rate_hz: float) -> str:
    """Why RMS is no more than a lower bound, or empty."""
    end = end_hz(row, rate_hz)
    if share < _SHARE or end >= 0.5 * rate_hz:
        return ""
    return f"{_much(share)} the channel's upper corner, {end:.6g} Hz: what is faster is not in it"


def folded(share: float, row: Row, rate_hz: float) -> str:
    """Why to doubt all of the row but its frequency, or empty."""
    half = 0.5 * rate_hz
    if share < _SHARE or end_hz(row, rate_hz) < half:
        return ""
    return f"{_much(share)} half the sample rate, {half:.6g} Hz: what is faster is taken for something slower"


def _much(share: float) -> str:
    return f"{100.0 * share:.0f} % of it lies near or above"
