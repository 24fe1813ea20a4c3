"""What became of alarms, as a report tells it: a row for each, and not for each of its changes."""

from dataclasses import replace

from server.alarms.notice import Notice, Told
from server.report.blocks import Table, Text
from server.report.evidence import ALARMS_SHOWN, alarm_parts
from server.report.words import FAST, Times
from tests.server.report.reports import BEGIN_UTC_S, END_UTC_S, HOUR_S, notice

TIMES = Times(BEGIN_UTC_S, END_UTC_S)


def rows_of(*alarms: Notice) -> tuple[tuple[str, ...], ...]:
    (table,) = (part for part in alarm_parts(alarms, TIMES) if isinstance(part, Table))
    return table.rows


def at(hours: float) -> str:
    return TIMES.moment(BEGIN_UTC_S + hours * HOUR_S)


def test_all_that_was_told_of_an_alarm_is_one_row_with_what_became_of_it() -> None:
    ended = replace(notice(2, Told.ENDED, 3.3), why="current was above 5.0 A", so_s=47.0)
    seen = notice(3, Told.ACKNOWLEDGED, 9.9, "found a leaf")
    what = f"current was above 5.0 A. Ended {at(3.3)}; acknowledged {at(9.9)} (found a leaf); so for 47{FAST}s."
    figures = "5.8 A, limit 5.0 A"
    assert rows_of(notice(1, Told.RAISED, 3.2), ended, replace(seen, so_s=47.0)) == ((at(3.2), "Alarm", what, figures),)
    stands = "Switch off: current above 5.0 A for 1.2 s"
    assert rows_of(notice(1, Told.RAISED, 3.2)) == ((at(3.2), "Alarm", stands, figures),)


def test_what_was_folded_into_one_is_one_row_with_one_total_and_begins_with_the_first() -> None:
    its = [notice(1, Told.RAISED, 3.2), replace(notice(2, Told.ENDED, 3.3), so_s=3.0)]
    for k in range(1, 9):
        for number, kind, hours in ((2 * k + 1, Told.RAISED, 3.2 + k), (2 * k + 2, Told.ENDED, 3.3 + k)):
            one = replace(notice(number, kind, hours), id=f"a-{k + 1}", first_id="a-1", first_utc_s=its[0].at_utc_s)
            its.append(replace(one, more=k, so_s=3.0 * (k + 1)))
    its[-1] = replace(its[-1], why="current was above 5.0 A")
    what = f"current was above 5.0 A. Ended {at(11.3)}; it came 9 times, so for 27{FAST}s in all."
    assert [(row[0], row[2]) for row in rows_of(*its)] == [(at(3.2), what)]
    assert rows_of(*its[:-1])[0][2] == f"{its[0].act}: {its[0].why}. It came 9 times, so for 27{FAST}s in all."
    many = [replace(its[0], number=k, id=f"b-{k}") for k in range(ALARMS_SHOWN + 2)]
    assert list(alarm_parts(many, TIMES))[-1] == Text("and 2 more.", second=True)


def test_what_came_before_this_run_or_not_at_all_is_not_said_to_have_come_in_it() -> None:
    shelved = notice(4, Told.SHELVED, 5.0, "trying a bigger load")
    assert rows_of(notice(3, Told.ACKNOWLEDGED, 9.9))[0][0] == "earlier"
    assert rows_of(shelved)[0][::2] == (
        "not raised",
        f"current above 5.0 A for 1.2 s. Shelved {at(5.0)} (trying a bigger load).",
    )
