"""From the parts of a budget to the interval that is shown (JCGM 100). Pure; knows no quantity."""

from collections.abc import Iterable
from math import hypot, inf, sqrt

from server.readings import Uncertainty

NORMAL_95 = 1.959964
_FIRST = (NORMAL_95**3 + NORMAL_95) / 4.0  # terms of the series in `coverage_factor`
_SECOND = (5.0 * NORMAL_95**5 + 16.0 * NORMAL_95**3 + 3.0 * NORMAL_95) / 96.0
_THIRD = (3.0 * NORMAL_95**7 + 19.0 * NORMAL_95**5 + 17.0 * NORMAL_95**3 - 15.0 * NORMAL_95) / 384.0
_FEW = (12.706, 4.303, 3.182, 2.776)  # Student's t for 95 % at 1 to 4 degrees of freedom (JCGM 100, table G.2)
CLOCK = "board's clock"
_NOTHING = 2.4477  # root of -2 ln 0.05
Standard = tuple[str, float, float]  # what it comes from, standard uncertainty, degrees of freedom


def coverage_factor(dof: float) -> float:
    """Student's t for 95 % at so many degrees of freedom, which need not be whole (JCGM 100, annex G).

    Within 0.003 of the exact value from 5 on (Cornish and Fisher's series in 1 / dof, Abramowitz and Stegun 26.7.5,
    from memory); between the whole numbers below it is a straight line.
    """
    if dof > len(_FEW):
        n = 1.0 / dof
        return NORMAL_95 + n * (_FIRST + n * (_SECOND + n * _THIRD))
    below = max(int(dof), 1)
    part = min(max(dof - below, 0.0), 1.0)
    return _FEW[below - 1] + part * (_FEW[min(below, len(_FEW) - 1)] - _FEW[below - 1])


def effective_dof(parts: Iterable[Standard]) -> float:
    """Degrees of freedom of the sum of independent parts (Welch and Satterthwaite; JCGM 100, G.4.1)."""
    total, fourths = 0.0, 0.0
    for _, standard, dof in parts:
        square = standard * standard
        total += square
        fourths += square * square / dof
    return total * total / fourths if fourths > 0.0 else inf


def combined(
    value: float, parts: list[Standard], low: float = -inf, high: float = inf, scatter: float = 0.0
) -> Uncertainty:
    """The interval about `value` by independent parts, each with the standard uncertainty that it gives to the value.

    `low`, `high`: what the quantity cannot pass; the interval ends there, and holds the true value no less often.
    `scatter`: of the parts, what is new in each window.
    """
    total = fourths = 0.0  # in one loop, as effective_dof has it: this is made for every reading
    for _, standard, dof in parts:
        square = standard * standard
        total += square
        fourths += square * square / dof
    factor = coverage_factor(total * total / fourths) if fourths > 0.0 else NORMAL_95
    half = factor * sqrt(total)
    below, above = value - half, value + half
    budget = tuple([(source, standard) for source, standard, _ in parts])
    ends = below if below > low else low, above if above < high else high
    return Uncertainty(*ends, factor, budget, (), scatter, tuple([dof for _, _, dof in parts]))


def scaled(uncertainty: Uncertainty, factor: float) -> Uncertainty:
    """Of the value times a factor above 0 that is exact."""
    parts = tuple([(source, standard * factor) for source, standard in uncertainty.parts])
    ends, scatter = (uncertainty.low * factor, uncertainty.high * factor), uncertainty.scatter * factor
    return Uncertainty(*ends, uncertainty.coverage_factor, parts, (), scatter, uncertainty.dof)


def parts_of(uncertainty: Uncertainty, without: str = "") -> list[Standard]:
    """The parts, to make another budget of; without the one of this name, which drops out of what is made of it."""
    dofs = uncertainty.dof or (inf,) * len(uncertainty.parts)
    its = zip(uncertainty.parts, dofs, strict=True)
    return [(source, standard, dof) for (source, standard), dof in its if source != without]


def of_magnitude(value: float, parts: list[Standard], high: float = inf) -> Uncertainty:
    """Of the magnitude of a phasor, each part as it shows along it. Near 0 it holds 0 in 95 % of cases.

    Where nothing is there noise alone makes a magnitude (Rayleigh), which passes 2.45 standard uncertainties in 5 %.
    """
    found = combined(value, parts, 0.0, high)
    standard = hypot(*[standard for _, standard, _ in parts])
    if value > _NOTHING * standard:
        return found
    return Uncertainty(0.0, found.high, found.coverage_factor, found.parts, (), found.scatter, found.dof)
