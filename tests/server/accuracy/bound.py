"""The Cramer-Rao bound of the joint model: the least standard deviation that an unbiased estimator can have.

Model: rows of samples in white noise, each a mean and the sinusoids present, all of one unknown frequency; on request
a slow drift of that frequency, and of each row's size. Computed from the derivatives at every sample (Kay,
Fundamentals of Statistical Signal Processing: Estimation Theory, 1993, eq. 3.31, from memory), not from the formulas
for long records.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import pi, sqrt

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Row:
    """One row of samples without its noise: RMS phasors by order, seen from the window's middle, and the mean."""

    phasors: dict[int, complex]
    mean: float = 0.0

    @property
    def rms(self) -> float:
        return sqrt(self.mean**2 + sum(abs(phasor) ** 2 for phasor in self.phasors.values()))


@dataclass(frozen=True, slots=True)
class Bounds:
    """Least standard deviations. `rms` and `sizes` (RMS of each order): one a row; of two rows also power and angle."""

    frequency_hz: float
    rms: tuple[float, ...]
    sizes: tuple[dict[int, float], ...]
    power: float = 0.0
    angle_rad: float = 0.0


def middle_times(rate_hz: float, count: int) -> Floats:
    """Times of the samples, 0 in the middle between the first and the last."""
    return (np.arange(count, dtype=np.float64) - (count - 1) / 2) / rate_hz


def covariance(columns: Sequence[NDArray[np.generic]], sigma: Floats | float) -> Floats:
    """Inverse of the Fisher information of white Gaussian noise: `columns` hold the signal's derivative by each
    parameter at each sample. Complex samples have noise of `sigma` in each of their two parts."""
    derivatives: Floats = np.stack([np.concatenate((each.real, each.imag)) for each in map(np.asarray, columns)])
    derivatives = derivatives / np.concatenate((np.broadcast_to(sigma, len(columns[0])),) * 2)
    scales: Floats = np.sqrt(np.vecdot(derivatives, derivatives))
    scaled = derivatives / scales[:, np.newaxis]
    whole = np.linalg.inv(scaled @ scaled.T)
    inverse: Floats = np.divide(whole, np.multiply.outer(scales, scales), dtype=np.float64)
    return inverse


def bounds(
    rows: Sequence[Row], sigmas: Sequence[float], hertz: float, rate_hz: float, count: int, *, drift: bool = False
) -> Bounds:
    """Bounds of these rows with noise of `sigmas` (RMS, one a row) in a window of `count` samples."""
    t = middle_times(rate_hz, count)
    columns, gradients = _columns(rows, hertz, t, drift), _Gradients(rows)
    inverse = covariance(columns, np.repeat(np.asarray(sigmas, dtype=np.float64), count))

    def least(gradient: Floats) -> float:
        whole = np.zeros(inverse.shape[0])
        whole[: gradient.size] = gradient
        return sqrt(float(whole @ inverse @ whole))

    of_one = range(len(rows))
    return Bounds(
        frequency_hz=sqrt(inverse[0, 0]),
        rms=tuple(least(gradients.rms(k)) for k in of_one),
        sizes=tuple({order: least(gradients.size(k, order)) for order in rows[k].phasors} for k in of_one),
        power=least(gradients.power()) if len(rows) == 2 else 0.0,
        angle_rad=least(gradients.angle(0) - gradients.angle(1)) if len(rows) == 2 else 0.0,
    )


def _columns(rows: Sequence[Row], hertz: float, t: Floats, drift: bool) -> list[Floats]:
    """Derivatives by frequency; by mean, real and imaginary parts of each row; with drift by its slopes."""
    count, rates, own, sizes = t.size, [], [], []
    for k, row in enumerate(rows):
        at = slice(k * count, (k + 1) * count)

        def placed(values: Floats, at: slice = at) -> Floats:
            whole = np.zeros(len(rows) * count)
            whole[at] = values
            return whole

        turns = {order: np.exp(2j * pi * order * hertz * t) * sqrt(2) for order in row.phasors}
        waves = {order: phasor * turns[order] for order, phasor in row.phasors.items()}
        rates.append(-2 * pi * t * sum(order * wave.imag for order, wave in waves.items()))
        own.append(placed(np.ones(count)))
        for turn in turns.values():
            own += [placed(turn.real), placed(-turn.imag)]
        sizes.append(placed(t * sum(wave.real for wave in waves.values())))
    rate = np.concatenate(rates)
    return [rate, *own, *([rate * np.tile(t, len(rows)) / 2, *sizes] if drift else [])]


class _Gradients:
    """Derivatives of what is read by the parameters in the order of `_columns`, drift left out: it stands last."""

    def __init__(self, rows: Sequence[Row]) -> None:
        self.rows = rows
        self.starts = [1]
        for row in rows:
            self.starts.append(self.starts[-1] + 1 + 2 * len(row.phasors))

    def rms(self, k: int) -> Floats:
        row = self.rows[k]
        return self._with(k, row.mean, row.phasors) / row.rms

    def size(self, k: int, order: int) -> Floats:
        phasor = self.rows[k].phasors[order]
        return self._with(k, 0.0, {order: phasor / abs(phasor)})

    def angle(self, k: int) -> Floats:
        phasor = self.rows[k].phasors[1]
        return self._with(k, 0.0, {1: 1j * phasor / abs(phasor) ** 2})

    def power(self) -> Floats:
        """Mean of the product: each row's derivative is the other row."""
        one, other = self.rows
        return self._with(0, other.mean, other.phasors) + self._with(1, one.mean, one.phasors)

    def _with(self, k: int, mean: float, phasors: dict[int, complex]) -> Floats:
        gradient = np.zeros(self.starts[-1])
        at = self.starts[k]
        gradient[at] = mean
        for n, order in enumerate(self.rows[k].phasors):
            part = phasors.get(order, 0j)
            gradient[at + 1 + 2 * n : at + 3 + 2 * n] = part.real, part.imag
        return gradient
