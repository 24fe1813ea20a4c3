"""Digits that ± allows (JCGM 100, 7.2.6: two of it at most): two of ± where its first is 1 or 2, else one, and the
value ends at the same place, as on the page (dashboard/src/core/rounding.ts). Pure.
"""

from math import ceil, isfinite, log10

_MOST = 30.0  # ± in steps of the last digit: from there on a digit less says enough
_CUT = 1.0 / 50.0  # of ±: less than this share may be cut off it, more is rounded up (7.2.6: 10.47 to 11, 28.05 to 28)


def decimals_of(u95: float | None, digits: int) -> int:
    """Decimals that ± allows (negative: tens, hundreds), at most one more than the catalogue's; those where it is not
    known."""
    if u95 is None or not isfinite(u95) or u95 <= 0.0:
        return digits
    return min(ceil(log10(_MOST / u95) - 1e-9) - 1, digits + 1)


def off_by(u95: float, decimals: int) -> float:
    """± with so many decimals, never nothing."""
    steps = u95 * 10.0**decimals
    return max(round(steps), ceil((1.0 - _CUT) * steps), 1) * 10.0**-decimals


def signed(value: float, decimals: int) -> str:
    """`+1.0`, `-0.25`, `+0`: with its sign, as angles of verdicts have it."""
    return f"{round(value, decimals):+z.{max(decimals, 0)}f}"
