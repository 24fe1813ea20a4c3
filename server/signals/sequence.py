"""Symmetrical components of three phasors (Fortescue 1918, Trans. AIEE 37, p. 1027). Knows no motor."""

from cmath import exp, pi

_A = exp(2j * pi / 3)


def sequence_components(first: complex, second: complex, third: complex) -> tuple[complex, complex, complex]:
    """Positive, negative and zero sequence. Example: 1, a^2, a (a balanced set in the order given) gives 1, 0, 0."""
    positive = (first + _A * second + _A * _A * third) / 3
    negative = (first + _A * _A * second + _A * third) / 3
    return positive, negative, (first + second + third) / 3
