"""Cautions that come in the quiet hours wait for their end in local time; alarms never wait."""

from datetime import datetime
from zoneinfo import ZoneInfo

import pytest

from server.alarms.notice import Rank
from server.alarms.quiet import receivers_of, time_of_day, waits_until_utc_s
from server.config import Calling

BERLIN = ZoneInfo("Europe/Berlin")
NIGHT = Calling("phone, office ,", "office", "22:00", "06:00")
NOON = Calling("", "", "12:00", "13:30")


def utc_s(text: str) -> float:
    return datetime.fromisoformat(text).replace(tzinfo=BERLIN).timestamp()


@pytest.mark.parametrize(
    ("calling", "came", "waits_until"),
    [
        (NIGHT, "2026-11-25T21:59", None),
        (NIGHT, "2026-11-25T22:00", "2026-11-26T06:00"),
        (NIGHT, "2026-11-26T05:59", "2026-11-26T06:00"),
        (NIGHT, "2026-11-26T06:00", None),
        (NIGHT, "2026-10-24T23:00", "2026-10-25T06:00"),  # clocks go back in this night
        (NIGHT, "2026-03-28T23:00", "2026-03-29T06:00"),  # and forward in this one
        (NOON, "2026-11-25T12:30", "2026-11-25T13:30"),
        (NOON, "2026-11-25T23:00", None),
        (Calling(), "2026-11-25T23:00", None),
    ],
)
def test_a_caution_waits_for_the_end_of_the_quiet_hours(calling: Calling, came: str, waits_until: str | None) -> None:
    expected = None if waits_until is None else utc_s(waits_until)
    assert waits_until_utc_s(calling, Rank.CAUTION, utc_s(came), BERLIN) == expected
    assert waits_until_utc_s(calling, Rank.ALARM, utc_s(came), BERLIN) is None


def test_when_it_came_is_a_time_of_day_and_has_its_day_where_that_is_not_clear() -> None:
    came, told = utc_s("2026-11-25T06:58"), utc_s("2026-11-25T07:05")
    assert time_of_day(came, told, BERLIN) == "06:58 CET"
    assert time_of_day(came, told + 86_400.0, BERLIN) == "2026-11-25 06:58 CET"
    assert time_of_day(utc_s("2026-07-25T06:58"), utc_s("2026-07-25T07:05"), BERLIN) == "06:58 CEST"


def test_receivers_are_names_with_commas_between() -> None:
    assert receivers_of(NIGHT, Rank.ALARM) == ("phone", "office")
    assert receivers_of(NIGHT, Rank.CAUTION) == ("office",)
    assert receivers_of(NOON, Rank.ALARM) == ()
