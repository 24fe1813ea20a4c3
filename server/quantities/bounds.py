"""Which way the true value lies off a reading that is only a bound: the sign that stands before it. Pure.

A log keeps the reason of a doubt in words, so it is read from these, by the rule that the page has (`core/shown.ts`).
"""

from typing import Final

AT_MOST: Final = "\u2264\u00a0"  # of its size: a shaft of which no edge comes turns no faster, whichever way
AT_LEAST: Final = "\u2265\u00a0"


def bound_of(key: str, doubt: str) -> str:
    """The sign of a doubtful reading; "" where it is no bound. `doubt`: its reason, "" of a good one.

    A clipped sample lay further out than it says, so an RMS over it is the least; where no edge comes any more the
    speed is the most that one in the time since allows, and the slip the least.
    """
    if "_rms_" in key and "clipp" in doubt:
        return AT_LEAST
    if "at most this" not in doubt:
        return ""
    return {"slip": AT_LEAST, "speed_rpm": AT_MOST}.get(key, "")
