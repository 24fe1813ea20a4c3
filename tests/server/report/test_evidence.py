"""What became of alarms, as a report tells it: a row for each, and not for each of its changes."""

from dataclasses import replace

from server.alarms.notice import Notice, Rank, Told
from server.report.answer import answer_of
from server.report.blocks import Heading, Table, Text
from server.report.evidence import ALARMS_SHOWN, alarm_parts, worst_alarms
from server.report.stories import stories_of
from server.report.words import FAST, Times
from tests.server.report.reports import BARE, BEGIN_UTC_S, END_UTC_S, HOUR_S, notice

TIMES = Times(BEGIN_UTC_S, END_UTC_S)


def rows_of(*alarms: Notice) -> tuple[tuple[str, ...], ...]:
    (table,) = (part for part in alarm_parts(alarms, TIMES, BEGIN_UTC_S) if isinstance(part, Table))
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
    assert list(alarm_parts(many, TIMES, BEGIN_UTC_S))[-1] == Text("and 2 more.", second=True)


def test_what_came_before_this_run_or_not_at_all_is_not_said_to_have_come_in_it() -> None:
    shelved = notice(4, Told.SHELVED, 5.0, "trying a bigger load")
    assert rows_of(notice(3, Told.ACKNOWLEDGED, 9.9))[0][0] == "earlier"
    assert rows_of(shelved)[0][::2] == (
        "not raised",
        f"current above 5.0 A for 1.2 s. Shelved {at(5.0)} (trying a bigger load).",
    )


def test_answer_and_table_count_the_same_alarms_and_what_is_apart_is_named() -> None:
    """Of cautions that keep coming, one that was raised before the run and one that a person shelved beforehand."""
    ready = replace(notice(1, Told.RAISED, 3.2), rank=Rank.CAUTION)
    ended = replace(ready, number=2, kind=Told.ENDED)
    folded = [replace(ready, number=k, id=f"a-{k}", first_id=ready.id) for k in (4, 5, 6)]
    other = replace(ready, number=7, id="a-7")
    before = replace(ready, number=3, id="a-0", kind=Told.AGAIN)
    shelved = replace(ready, number=8, id="a-8", kind=Told.SHELVED)
    its = (ready, ended, before, *folded, other, shelved)
    (heading,) = (part for part in alarm_parts(its, TIMES, BEGIN_UTC_S) if isinstance(part, Heading))
    said = "2 cautions came, one caution stood from before"
    assert heading.second == f"{said}, one caution was shelved before"
    assert len(rows_of(*its)) == 4
    ran = replace(BARE, spent={"running": (1, 60.0)}, alarms=its)
    assert answer_of(ran, TIMES).text == f"It ran, but {said.replace(', ', ' and ')}"


def test_the_first_page_names_the_worst_alarms_with_their_moments_and_how_many_more_there_are() -> None:
    caution = replace(notice(1, Told.RAISED, 3.2), rank=Rank.CAUTION, id="b-1", why="it drifted; look at it.")
    alarms = [replace(notice(k, Told.RAISED, 3.0 + k), id=f"a-{k}", why=f"number {k}; heat.") for k in (2, 3, 4)]
    seen = replace(notice(9, Told.ACKNOWLEDGED, 9.9), id="a-0", why="it was so")
    stories = stories_of([caution, *alarms], BEGIN_UTC_S)
    said = [f"{at(3.0 + k)}: Alarm: number {k}" for k in (2, 3, 4)]
    assert [sign.text for sign in worst_alarms(stories, TIMES)] == [*said, "and one more, in the table of alarms"]
    again = [replace(each, number=20 + k, id=f"c-{k}") for k, each in enumerate((alarms[1], alarms[2], alarms[2]))]
    alike = [sign.text for sign in worst_alarms(stories_of([*alarms, *again], BEGIN_UTC_S), TIMES)]
    assert alike == [said[0], f"{said[1]}, and one more like it", f"{said[2]}, and 2 more like it"]
    few = stories_of([caution, seen], BEGIN_UTC_S)
    assert [sign.text for sign in worst_alarms(few, TIMES)] == [
        "earlier: Alarm: it was so",
        f"{at(3.2)}: Caution: it drifted",
    ]
