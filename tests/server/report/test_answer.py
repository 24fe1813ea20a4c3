"""The answer of a report: the worst first, and never more than is known."""

from dataclasses import replace

from server.report.answer import answer_of
from server.report.report import Happened, Report, Spell
from server.report.words import Times
from server.verdict import Certainty
from tests.server.report.reports import BARE, BEGIN_UTC_S, NIGHT, WEAR

TIMES = Times(BEGIN_UTC_S, BEGIN_UTC_S + 60.0)
RAN = replace(BARE, spells=(Spell("running", BEGIN_UTC_S, BARE.to_utc_s),))


def text_of(report: Report) -> str:
    return answer_of(report, TIMES).text


def test_what_ran_without_anything_odd_is_said_to_have_run() -> None:
    assert text_of(RAN) == "It ran, and nothing out of the ordinary was seen"
    assert text_of(BARE) == "It was not seen running"


def test_stalls_alarms_and_verdicts_are_told_the_worst_first() -> None:
    stalls = tuple(Happened(BEGIN_UTC_S + k, "stalled", "Stalled", "", True) for k in range(3))
    assert text_of(replace(RAN, events=stalls[:1])) == "It ran, but it stalled"
    assert text_of(replace(RAN, events=stalls)) == "It ran, but it stalled 3 times"
    assert text_of(NIGHT) == "It ran, but the commutator is wearing, one alarm came and it stalled"
    assert text_of(replace(BARE, verdicts=(WEAR,))) == "The commutator is wearing"


def test_what_is_probable_is_said_so_and_what_is_open_is_no_answer() -> None:
    probable, open_one = replace(WEAR, certainty=Certainty.PROBABLE), replace(WEAR, certainty=Certainty.OPEN)
    assert text_of(replace(RAN, verdicts=(probable,))) == "It ran, but probably: the commutator is wearing"
    found = answer_of(replace(RAN, verdicts=(open_one,)), TIMES)
    assert found.text == "It ran, and nothing out of the ordinary was seen"
    assert (found.next, found.caution) == ("Stop, let it cool, measure brush length.", WEAR.next_test.caution)  # type: ignore[union-attr]  # it has one


def test_what_is_not_known_is_told() -> None:
    line = {**NIGHT.account[0], "promised": 1000, "stored": 900, "missing": {"cable out": 100}}
    found = answer_of(replace(NIGHT, account=(line,)), TIMES)
    assert any("100 of U supply, I line did not come, 10.00" in each for each in found.unknown)
    assert any("nothing was recorded" in each for each in found.unknown)
    assert any("cannot be read" in each for each in found.unknown)
    assert answer_of(RAN, TIMES).unknown == ()
