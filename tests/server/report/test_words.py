"""Numbers and times of a report."""

from zoneinfo import ZoneInfo

import pytest

from server.report.words import Times, length, measured, number

BERLIN = ZoneInfo("Europe/Berlin")
# 25 October 2026, 01:00 UTC: summer time ends there (IANA time zone database)
BACK_UTC_S = 1_792_890_000.0


@pytest.mark.parametrize(
    ("value", "unit", "u95", "digits", "words"),
    [
        (1380.24, "r/min", 0.43, 0, "1 380.2 ± 0.5 r/min"),
        (0.55372, "A", 0.0021, 3, "0.5537 ± 0.0021 A"),
        (230.4, "V", 12.0, 1, "230 ± 12 V"),
        (-14.21, "ppm", None, 1, "−14.2 ppm"),
        (1234567.0, "W", 2300.0, 1, "1 234 600 ± 2 300 W"),
        (-0.0001, "V", 0.01, 2, "0.000 ± 0.010 V"),
        (0.83, "", None, 2, "0.83"),
        (73.349, "%", 2.2, 2, "73.3 ± 2.2 %"),
        (0.09167, "h", 0.0033, 4, "0.092 ± 0.004 h"),
    ],
)
def test_digits_end_where_the_uncertainty_ends(
    value: float, unit: str, u95: float | None, digits: int, words: str
) -> None:
    """Two digits of ± at most (JCGM 100, 7.2.6; two where its first is 1 or 2: ours, as on the page), and one more than
    the catalogue's."""
    assert measured(value, unit, u95, digits).replace("\u202f", " ").replace("\u00a0", " ") == words


def test_lengths_are_told_in_the_units_of_a_clock() -> None:
    told = [length(each).replace("\u00a0", " ") for each in (0.0, 9.94, 59.9, 60.0, 260.0, 36_780.0)]
    assert told == ["0.0 s", "9.9 s", "60 s", "1 min", "4 min 20 s", "10 h 13 min"]


def test_no_minus_stands_before_nothing() -> None:
    assert number(-0.04, 1) == "0.0"


def test_in_a_night_with_two_half_past_two_each_time_has_its_offset() -> None:
    times = Times(BACK_UTC_S - 7200.0, BACK_UTC_S + 7200.0, BERLIN)
    both = [times.moment(BACK_UTC_S + minutes * 60.0) for minutes in (-30, 30)]
    assert both == ["25 Oct 02:30:00 +02:00", "25 Oct 02:30:00 +01:00"]
    assert times.whole(BACK_UTC_S + 1800.0) == "25 October 2026, 02:30:00 UTC+01:00"
    ticks = [(words, below) for _, words, below in times.ticks(BACK_UTC_S - 7200.0, BACK_UTC_S + 7200.0, 4)]
    assert ticks == [("01:00", "UTC+02:00"), ("02:00", ""), ("02:00", "UTC+01:00"), ("03:00", ""), ("04:00", "")]


def test_in_any_other_run_times_are_short() -> None:
    times = Times(BACK_UTC_S + 40_000.0, BACK_UTC_S + 40_060.0, BERLIN)
    assert times.moment(BACK_UTC_S + 40_001.0) == "13:06:41"
    assert (
        times.moment(BACK_UTC_S + 40_001.0 + 86_400.0) == "26 Oct 13:06:41"
    )  # of an alarm that was seen the day after
    assert Times(BACK_UTC_S, BACK_UTC_S + 60.0, ZoneInfo("UTC")).whole(BACK_UTC_S) == "25 October 2026, 01:00:00 UTC"
