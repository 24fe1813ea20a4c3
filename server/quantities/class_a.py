"""Limits of IEC 61000-3-2 for the harmonics of the current of class A equipment, as a line to look along.

Information only: nothing is tested for compliance, which takes the standard's own conditions, source and duration. The
figures are from a public test report that prints them (edition not said there) and from memory; look them up in the
current edition before you rely on them.
"""

_ODD = {3: 2.30, 5: 1.14, 7: 0.77, 9: 0.40, 11: 0.33, 13: 0.21}
_EVEN = {2: 1.08, 4: 0.43, 6: 0.30}
ORDER_MAX = 40


def class_a_limit_a(order: int) -> float | None:
    """RMS of the harmonic of this order, A; None for order 1 and above 40."""
    if not 2 <= order <= ORDER_MAX:
        return None
    if order % 2:
        return _ODD.get(order, 0.15 * 15 / order)
    return _EVEN.get(order, 0.23 * 8 / order)
