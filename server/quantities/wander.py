"""How well noise lets a frequency be known. Pure."""

from math import pi, sqrt

_EFFICIENCY = 1.16  # of the frequency, times the bound (server/signals/sharpening.py)
_MANY_CYCLES = 8.0  # below, mean and harmonics are taken out too (server/signals/frequency.py)
_FEW, _MANY = (1.92, 2.5), (1.33, 2.3)  # so many times the bound by three lines, and more by the square of how far the
# fundamental lies from a line (found by trials)


def telling_of_three_lines(cycles: float) -> float:
    """What share of a sine's RMS tells as much to the joint fit as all of it to three lines."""
    least, more = _FEW if cycles < _MANY_CYCLES else _MANY
    return _EFFICIENCY / (least + more * (cycles - round(cycles)) ** 2)


def wander_of(cycles: float, telling: float, noise: float, samples: int) -> float:
    """The Cramer-Rao bound of a lone sine and what the estimator loses on it, relative to the frequency.

    The bound (Rife and Boorstyn 1974, IEEE Trans. IT-20, p. 591, from memory): root of 12 times the noise over the
    sine's RMS, over 2 pi and the root of the number of samples, in cycles in the window. `telling`: RMS of a lone sine
    that tells as much as this one with its harmonics.
    """
    return _EFFICIENCY * sqrt(12.0 / samples) * noise / (2.0 * pi * telling * cycles)
