"""Three phasors that must add up to nothing: how far they do, and which one turned round would mend it. Pure."""

from dataclasses import dataclass

# Three current transformers of an open recording (ITSC, doi 10.1016/j.measurement.2023.113680) disagree by 3 to 6 % and
# a few degrees: on healthy motors they leave 10 to 19 % of their mean. So much says nothing of the wiring. One of three
# that is turned round leaves 200 %, one round another's conductor 173 %.
ADDS_UP = 0.20
DOES_NOT = 0.50
_MENDED = 0.5  # of what is left as they are: so much better with one turned round


@dataclass(frozen=True, slots=True)
class Sum:
    """`left` over the mean size. `turned`: the one that, turned round, leaves less than `DOES_NOT`, or None."""

    left: float
    turned: int | None


def sum_of(phasors: tuple[complex, complex, complex]) -> Sum:
    """Of phasors of which at least one is not 0."""
    mean = sum(map(abs, phasors)) / 3
    left = abs(sum(phasors)) / mean
    mended = [abs(sum(phasors) - 2 * each) / mean for each in phasors]
    best = min(range(3), key=mended.__getitem__)
    return Sum(left, best if left > DOES_NOT and mended[best] < min(DOES_NOT, _MENDED * left) else None)
