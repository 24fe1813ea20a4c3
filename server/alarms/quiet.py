"""Quiet hours: until when a caution waits, and when it came. Pure; local time is given as a time zone."""

from datetime import datetime, timedelta, tzinfo

from server.alarms.notice import Rank
from server.config import Calling

DAY_CLEAR_S = 18 * 3600.0  # ago: a time of day alone means the last one


def receivers_of(calling: Calling, rank: Rank) -> tuple[str, ...]:
    """Names of whom to call."""
    said = calling.alarm if rank is Rank.ALARM else calling.caution
    return tuple(name for name in (part.strip() for part in said.split(",")) if name)


def waits_until_utc_s(calling: Calling, rank: Rank, at_utc_s: float, zone: tzinfo | None = None) -> float | None:
    """The end of the quiet hours that a caution came in; None: it is told at once. `zone` None: that of the PC.

    The end is that clock time in local time, also in a night whose clocks are changed.
    """
    if rank is Rank.ALARM or not calling.quiet_from:
        return None
    now = datetime.fromtimestamp(at_utc_s, zone).astimezone(zone)
    clock, begins, ends = f"{now:%H:%M}", calling.quiet_from, calling.quiet_to
    inside = begins <= clock < ends if begins < ends else clock >= begins or clock < ends
    if not inside:
        return None
    hour, minute = map(int, ends.split(":"))
    day = now.date() if clock < ends else now.date() + timedelta(days=1)
    return datetime(day.year, day.month, day.day, hour, minute, tzinfo=zone).astimezone().timestamp()


def time_of_day(utc_s: float, now_utc_s: float, zone: tzinfo | None = None) -> str:
    """When it came, as a person in that zone reads it (None: that of the PC); with its day once that is unclear."""
    day = "" if abs(now_utc_s - utc_s) < DAY_CLEAR_S else "%Y-%m-%d "
    return datetime.fromtimestamp(utc_s, zone).astimezone(zone).strftime(f"{day}%H:%M %Z")
