"""The answer of a report: the worst first, and never more than is known."""

from dataclasses import replace

import numpy as np
import pytest

from server.alarms.notice import Notice, Rank, Told
from server.report.answer import answer_of
from server.report.holes import Hole
from server.report.overload import overload_of
from server.report.report import Happened, Report, Spell, Trend
from server.report.states import spent_of
from server.report.words import FAST, Times, length
from server.verdict import Certainty
from tests.server.report.reports import BARE, BEGIN_UTC_S, NIGHT, WEAR

TIMES = Times(BEGIN_UTC_S, BEGIN_UTC_S + 60.0)
RAN = replace(BARE, spent={"running": (1, BARE.to_utc_s - BEGIN_UTC_S)})


def text_of(report: Report) -> str:
    return answer_of(report, TIMES).text


def test_what_ran_without_anything_odd_is_said_to_have_run() -> None:
    assert text_of(RAN) == "It ran, and nothing out of the ordinary was seen"
    assert text_of(BARE) == "It was not seen running"
    unread = replace(BARE, spent={"not recorded": (1, 60.0)}, troubles=("20261125-1402-b has no log yet",))
    assert text_of(unread) == "It is not known whether it ran: 20261125-1402-b has no log yet"


def test_stalls_alarms_and_verdicts_are_told_the_worst_first() -> None:
    stalls = tuple(Happened(BEGIN_UTC_S + k, "stalled", "Stalled", "", True) for k in range(3))
    assert text_of(replace(RAN, events=stalls[:1], counts={"stalled": 1})) == "It ran, but it stalled"
    many = answer_of(replace(RAN, events=stalls, counts={"stalled": 700, "running": 5000}), TIMES)  # few are kept
    assert many.text == "It ran, but it stalled 700 times"
    assert any(sign.text == "came to speed 5\u202f000 times, after starts and after stalls" for sign in many.signs)
    told = [f"{TIMES.moment(each.utc_s)}: Stalled" for each in stalls]
    assert [sign.text for sign in many.signs][-4:] == [told[0], "and 697 more stalls", *told[1:]]
    few = answer_of(replace(RAN, events=stalls[:2], counts={"stalled": 5}), TIMES)
    assert [sign.text for sign in few.signs][-3:] == [told[0], "and 3 more stalls", told[1]]
    none = answer_of(replace(RAN, counts={"stalled": 9}), TIMES)  # they came in the middle of all that happened
    assert (none.text, "more" in str(none.signs)) == ("It ran, but it stalled 9 times", False)
    cut = answer_of(replace(RAN, events=stalls * 4, counts={"stalled": 700}), TIMES).signs[-7:]
    assert (cut[0].text, cut[1].text) == (f"{TIMES.moment(BEGIN_UTC_S)}: Stalled", "and 694 more stalls")
    gone = Hole(BEGIN_UTC_S + 40.0, BEGIN_UTC_S + 99.0, "cable out")
    silent = answer_of(replace(RAN, counts={"stalled": 2}), TIMES, gone=gone).text
    assert silent == f"It ran, but nothing came after {TIMES.moment(gone.from_utc_s)} (cable out) and it stalled twice"
    assert text_of(NIGHT) == "It ran, but the commutator is wearing, one alarm came and it stalled"
    assert text_of(replace(BARE, verdicts=(WEAR,))) == "The commutator is wearing"
    two = (replace(WEAR, signs=WEAR.signs * 2), WEAR)
    signs = [sign.text for sign in answer_of(replace(BARE, verdicts=two), TIMES).signs]
    assert signs == [*(sign.text for sign in WEAR.signs * 2), "and 3 more signs"]  # those of the first one are whole


def test_a_caution_alone_is_out_of_the_ordinary_too_and_alarms_stand_before_it() -> None:
    """The wear of a night is a caution, and so is a recording that failed."""
    alarm = NIGHT.alarms[0]  # type: ignore[index]  # it has three
    caution = replace(alarm, rank=Rank.CAUTION, number=9, id="heron-2-9")
    ended = replace(caution, kind=Told.ENDED)
    assert text_of(replace(RAN, alarms=(caution, ended))) == "It ran, but one caution came"
    other = replace(caution, id="heron-2-12")
    again = [replace(other, id=f"heron-2-{k}", first_id=other.id) for k in (14, 16)]
    came = "It ran, but one alarm and 2 cautions came"
    assert text_of(replace(RAN, alarms=(caution, alarm, other, *again))) == came, "one that came thrice is one"
    passed = replace(caution, id="heron-2-18", name="test_passed")
    assert text_of(replace(RAN, alarms=(passed,))) == "It ran, and its test has passed"
    assert text_of(replace(RAN, alarms=(passed, alarm))) == "It ran, but one alarm came"
    newer = replace(alarm, act="Switch it off.")
    failed = replace(alarm, id="heron-2-20", name="test_failed", act="Look at the motor, then at its test")
    lists = ((), (caution,), (alarm, newer, caution), (newer, failed), (failed,))
    acts = [answer_of(replace(RAN, alarms=its), TIMES).next for its in lists]
    assert acts[:3] == ["", f"{caution.act}.", "Switch it off."], "without a test that a verdict asks for"
    assert acts[3:] == ["Switch it off.", f"{failed.act}."], "what became of a test can wait"
    over = replace(alarm, kind=Told.ENDED)  # with its act, as runs have it that were recorded by older versions
    look = "Look why it came: current above 5.0 A for 1.2 s."
    assert answer_of(replace(RAN, alarms=(alarm, over, caution)), TIMES).next == look
    asks = "Switch off: current above 5.0 A for 1.2 s."
    unwatched = replace(over, why="It is not watched any more.")
    for its in ((alarm, replace(over, kind=Told.ACKNOWLEDGED), over), (alarm, unwatched)):
        assert answer_of(replace(RAN, alarms=its), TIMES).next == asks, "it may still be so"
    assert answer_of(replace(RAN, alarms=(alarm,)), TIMES, over={alarm.id}).next == look, "it stands, and is not so"


def test_what_stands_from_before_is_no_alarm_that_came_and_is_told_first() -> None:
    alarm = replace(NIGHT.alarms[0], at_utc_s=BEGIN_UTC_S - 60.0)  # type: ignore[index]  # it has three
    failed = replace(alarm, id="heron-2-1", number=4, name="test_failed", act="Look at the motor, then at its test")
    came = replace(alarm, id="heron-2-2", number=5, rank=Rank.CAUTION, at_utc_s=BEGIN_UTC_S + 5.0)

    def found(*alarms: Notice, standing: tuple[str, ...] = (), over: tuple[str, ...] = ()) -> tuple[str, str]:
        its = answer_of(replace(RAN, alarms=alarms), TIMES, standing=standing, over=over)
        return its.text, its.next

    stands = found(failed, came, standing=(failed.id, came.id))
    assert stands == ("It ran, but one alarm stands from before and one caution came", f"{failed.act}.")
    two = found(failed, alarm, standing=(failed.id, alarm.id))
    assert two == ("It ran, but 2 alarms stand from before", "Switch off.")
    held = found(alarm, standing=(alarm.id,), over=(alarm.id,))
    assert held == (
        two[0].replace("2 alarms stand", "one alarm stands"),
        "Look why it came: current above 5.0 A for 1.2 s.",
    )
    ended = replace(alarm, kind=Told.ENDED, number=9, at_utc_s=BEGIN_UTC_S + 9.0)
    assert found(alarm, ended)[0] == found(ended)[0] == "It ran, but one alarm stood from before"


def test_what_was_mended_on_the_way_is_no_answer_and_is_told_with_its_moment() -> None:
    moments = [Happened(BEGIN_UTC_S + k, "concluded", "Phase U carries no current", "", True) for k in range(3)]
    held = Happened(BEGIN_UTC_S + 9.0, "concluded", WEAR.answer.partition(": ")[0].rstrip("."), "", True)
    found = answer_of(replace(RAN, events=(*moments, held), verdicts=(WEAR,)), TIMES)
    assert "Phase U" not in found.text
    earlier = [sign.text for sign in found.signs if sign.text.endswith("not at the end")]
    assert earlier == [f"{TIMES.moment(BEGIN_UTC_S)}: Phase U carries no current, not at the end"]


def test_a_state_that_was_not_known_and_a_current_above_the_plate_are_not_called_ordinary() -> None:
    unsure = replace(RAN, spent={"running": (1, 30.0), "unknown": (2, 78.0)})
    assert text_of(unsure) == f"It ran, but for {length(78.0)} its state was not known"
    assert text_of(replace(BARE, spent={"unknown": (1, 78.0)})).startswith("It was not seen running, but for 1")
    begun = Spell("unknown", BEGIN_UTC_S, BEGIN_UTC_S + 9.0), Spell("running", BEGIN_UTC_S + 9.0, BEGIN_UTC_S + 60.0)
    fresh = replace(RAN, spells=begun, spent=spent_of(begun))
    assert text_of(fresh) == "It ran, and nothing out of the ordinary was seen"
    gap = Spell("not recorded", BEGIN_UTC_S + 60.0, BEGIN_UTC_S + 70.0)
    later = [Spell("unknown", BEGIN_UTC_S + since, BEGIN_UTC_S + to) for since, to in ((70.0, 79.0), (80.0, 98.0))]
    both = (*begun, gap, later[0], Spell("running", BEGIN_UTC_S + 79.0, BEGIN_UTC_S + 80.0), later[1])
    assert (
        text_of(replace(RAN, spells=both, spent=spent_of(both)))
        == f"It ran, but for {length(18.0)} its state was not known"
    )
    mean = np.r_[np.full(5, 6.0), np.full(20, 0.5), np.full(78, 5.71), np.full(20, 1.1), np.nan]  # a start, a stall
    drawn = Trend("current", "A", "current", BEGIN_UTC_S, 1.0, mean, mean, mean)
    found = overload_of((drawn,), 1.0)
    assert found is not None
    assert found.seconds == 78.0
    assert found.highest == pytest.approx(5.71)
    said = answer_of(RAN, TIMES, found).text
    assert said == f"It ran, but its current stood at up to 571{FAST}% of the plate's for {length(78.0)}"
    assert (overload_of((drawn,), None), overload_of((drawn,), 10.0), overload_of((), 1.0)) == (None, None, None)


def test_what_is_probable_is_said_so_and_what_is_open_is_no_answer() -> None:
    probable, open_one = replace(WEAR, certainty=Certainty.PROBABLE), replace(WEAR, certainty=Certainty.OPEN)
    assert text_of(replace(RAN, verdicts=(probable,))) == "It ran, but probably: the commutator is wearing"
    found = answer_of(replace(RAN, verdicts=(open_one,)), TIMES)
    assert found.text == "It ran, and nothing out of the ordinary was seen"
    assert (found.next, found.caution) == ("Stop, let it cool, measure brush length.", WEAR.next_test.caution)  # type: ignore[union-attr]  # it has one


def test_what_is_not_known_is_told() -> None:
    line = {**NIGHT.account[0], "promised": 1000, "stored": 900, "missing": {"cable out": 100}}
    found = answer_of(replace(NIGHT, account=(line,)), TIMES)
    assert any("100 samples of U supply, I line did not come, 10.00" in each for each in found.unknown)
    assert any("nothing was recorded" in each for each in found.unknown)
    assert any("cannot be read" in each for each in found.unknown)
    assert answer_of(RAN, TIMES).unknown == ()
    later = "not all is in the log yet (the service ended): it is read in later"
    assert answer_of(replace(RAN, troubles=(later,)), TIMES).unknown == (later,)
