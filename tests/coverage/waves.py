"""Waves of a few orders, and of lines between them, whose every number follows from the orders themselves."""

from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import NDArray

ORDERS = (1, 2, 3, 5, 7, 11, 13, 25)


@dataclass(frozen=True, slots=True)
class Wave:
    """Mean and RMS phasors of ORDERS; `between`: order, which need not be whole, and RMS phasor of other lines."""

    mean: float
    phasors: NDArray[np.complex128]
    between: tuple[tuple[float, complex], ...] = ()

    @property
    def rms(self) -> float:
        return sqrt(self.mean**2 + float((np.abs(self.phasors) ** 2).sum()))

    @property
    def sizes(self) -> dict[int, float]:
        """RMS by order."""
        return dict(zip(ORDERS, np.abs(self.phasors).tolist(), strict=True))

    def at(self, times_s: NDArray[np.float64], hertz: float) -> NDArray[np.float64]:
        turn = np.exp(2j * np.pi * hertz * times_s)
        values = np.full(times_s.shape, self.mean)
        power, order = turn.copy(), 1
        for each, phasor in zip(ORDERS, self.phasors, strict=True):
            while order < each:
                power *= turn
                order += 1
            if phasor:
                values += sqrt(2.0) * (phasor.real * power.real - phasor.imag * power.imag)
        for line, phasor in self.between:
            values += sqrt(2.0) * (phasor * np.exp(2j * np.pi * hertz * line * times_s)).real
        return values


def drawn_wave(draw: np.random.Generator, size: float, angle: float) -> Wave:
    """A fundamental of this RMS and angle, up to 15 % of each harmonic, and now and then a mean."""
    shares = np.where(draw.random(len(ORDERS)) < 0.7, draw.uniform(0.0, 0.15, len(ORDERS)), 0.0) / np.sqrt(ORDERS)
    turns = np.exp(1j * draw.uniform(0.0, 2 * np.pi, len(ORDERS)))
    phasors = size * shares * turns
    phasors[0] = size * np.exp(1j * angle)
    return Wave(size * (draw.normal(0.0, 0.01) if draw.random() < 0.3 else 0.0), phasors)
