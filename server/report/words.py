"""Numbers and times as a person reads them: digits that ± allows, real minus, thin spaces, local time. Pure."""

from datetime import UTC, datetime, tzinfo

from server.rounding import decimals_of, off_by

_FIRST_UTC_S, _LAST_UTC_S = 86_400.0, 253_370_764_800.0  # calendars end in the year 9999
THIN, FAST = "\u202f", "\u00a0"  # between thousands; between a number and its unit


def number(value: float, decimals: int) -> str:
    """With so many decimals (negative: tens, hundreds), thin spaces between thousands, and a real minus."""
    rounded = round(value, decimals) + 0.0
    text = f"{abs(rounded):,.{max(decimals, 0)}f}".replace(",", THIN)
    return f"−{text}" if rounded < 0 else text


def times_words(count: int, what: str) -> str:
    """ "one alarm", "2 alarms"."""
    return f"one {what}" if count == 1 else f"{number(count, 0)} {what}s"


def measured(value: float, unit: str, u95: float | None, digits: int) -> str:
    """`1 380.2 ± 0.4 r/min`; without ± where none is known."""
    decimals = decimals_of(u95, digits)
    said = number(value, decimals)
    if u95 is not None:
        said += f"{FAST}±{FAST}{number(off_by(u95, decimals), decimals)}"
    return f"{said}{FAST}{unit}" if unit else said


def length(seconds: float) -> str:
    """`10 h 13 min`, `4 min 20 s`, `12.4 s`."""
    if seconds < 59.95:
        return f"{number(seconds, 1 if seconds < 9.95 else 0)}{FAST}s"
    whole = round(seconds)
    hours, minutes, rest = whole // 3600, whole % 3600 // 60, whole % 60
    if hours:
        return f"{number(hours, 0)}{FAST}h {minutes}{FAST}min"
    return f"{minutes}{FAST}min {rest}{FAST}s" if rest else f"{minutes}{FAST}min"


class Times:
    """Local times of one run. `zone` None: that of this PC. With the offset where it changes within the run, as in a
    night that has two 02:30."""

    def __init__(self, from_utc_s: float, to_utc_s: float, zone: tzinfo | None = None) -> None:
        self._zone = zone
        first, last = self._local(from_utc_s), self._local(to_utc_s)
        self._hours = to_utc_s - from_utc_s > 2.0 * 3600.0
        self._many_days = (first.date(), first.utcoffset()) != (last.date(), last.utcoffset())
        self._two, self._day = first.utcoffset() != last.utcoffset(), first.date()

    def _local(self, utc_s: float) -> datetime:
        told = min(max(utc_s, _FIRST_UTC_S), _LAST_UTC_S)  # a board can count beyond every calendar
        return datetime.fromtimestamp(told, UTC).astimezone(self._zone)

    @property
    def are_long(self) -> bool:
        """Moments have their day."""
        return self._many_days

    def clock(self, utc_s: float) -> str:
        """The time of day, without its day; to the minute in a run of hours."""
        local = self._local(utc_s)
        text = f"{local:%H:%M}" if self._hours else f"{local:%H:%M:%S}"
        return f"{text} {offset(local)[3:] or '+00:00'}" if self._two else text

    def moment(self, utc_s: float) -> str:
        """The time, with the day where the run has more than one, or where it is another one than the run's."""
        local = self._local(utc_s)
        day = f"{local.day} {local:%b} " if self._many_days or local.date() != self._day else ""
        return f"{day}{local:%H:%M:%S}" + (f" {offset(local)[3:] or '+00:00'}" if self._two else "")

    def whole(self, utc_s: float) -> str:
        """Day, time and offset."""
        local = self._local(utc_s)
        return f"{local.day} {local:%B %Y}, {local:%H:%M:%S} {offset(local)}"

    def ticks(self, from_utc_s: float, to_utc_s: float, at_most: int = 11) -> list[tuple[float, str, str]]:
        """Round moments between with their words, and what stands below: the offset, where it begins to hold."""
        span = to_utc_s - from_utc_s
        steps = (
            0.1,
            0.2,
            0.5,
            1,
            2,
            5,
            10,
            15,
            30,
            60,
            120,
            300,
            600,
            900,
            1800,
            3600,
            7200,
            10800,
            21600,
            43200,
            86400,
        )
        step = next((each for each in steps if span / each <= at_most), 86400.0 * max(1, round(span / 86400 / at_most)))
        shift = self._local(from_utc_s).utcoffset()
        local_s = 0.0 if shift is None else shift.total_seconds()
        first = -(-(from_utc_s + local_s) // step) * step - local_s
        found, held = list[tuple[float, str, str]](), ""
        while first <= to_utc_s and len(found) <= 2 * at_most:
            local = self._local(first)
            text = f"{local:%H:%M}" if step >= 60 else f"{local:%H:%M:%S}"
            text += "" if step >= 1 else f".{round(first % 1 * 10) % 10}"
            below = offset(local) if self._two and offset(local) != held else ""
            held = offset(local)
            found.append((first, text, below))
            first += step
        return found


def offset(local: datetime) -> str:
    """`UTC+01:00`, `UTC`."""
    shift = local.utcoffset()
    minutes = 0 if shift is None else round(shift.total_seconds() / 60)
    if not minutes:
        return "UTC"
    sign = "+" if minutes > 0 else "−"
    return f"UTC{sign}{abs(minutes) // 60:02d}:{abs(minutes) % 60:02d}"
