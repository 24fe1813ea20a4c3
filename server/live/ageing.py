"""How far a reading can still be trusted now: the one place where silence makes readings stale and then absent. Pure.

`push` sees bytes only and says nothing of silence; page, API and lines all ask here, so that they agree.
"""

from enum import StrEnum

from server.readings import Confidence, Reading, absent, doubtful

STALE_S = 1.0
STALE_INTERVALS = 3
TOO_OLD = 5  # times the age at which it is stale


class Age(StrEnum):
    """What age has made of a reading."""

    FRESH = ""
    STALE = "stale"
    ABSENT = "absent"


def age(age_s: float, interval_s: float) -> Age:
    """By the age of the newest sample behind it and the longest time to the next one, both in seconds."""
    stale_s = max(STALE_S, STALE_INTERVALS * interval_s)
    return Age.FRESH if age_s <= stale_s else Age.STALE if age_s <= TOO_OLD * stale_s else Age.ABSENT


def aged(reading: Reading, age_s: float, interval_s: float) -> tuple[Reading, Age]:
    """The reading as it may be shown now, and what age has made of it."""
    how = age(age_s, interval_s)
    if how is Age.FRESH or reading.confidence is Confidence.ABSENT:
        return reading, how
    if how is Age.STALE:
        return doubtful(reading, f"no samples for {age_s:.1f} s"), how
    return absent(reading.key, f"no samples for {age_s:.0f} s", reading.place), how
