"""What is read from across the room: what would happen, and below it what mends it or what is wrong first."""

import pytest

from server.verdict import Certainty, NextTest, Sign, Speaks, Verdict
from server.wiring.arrangement import Arrangement, Order
from server.wiring.grounds import Grounds, Known
from server.wiring.names import UNNAMED
from server.wiring.order import Judged
from server.wiring.shown import far_record
from server.wiring.verdicts import Judgement, verdicts
from server.wiring.visits import visits_of
from tests.server.wiring.turned import TICK_HZ, Hand, turned_by_hand

IN_PLACE: Order = (0, 1, 2)
UNKNOWN = "Can't tell yet: no order of the leads fits clearly."
OPEN = Judged(Verdict("commutation_unknown", "", UNKNOWN, Certainty.OPEN, (), (), NextTest("Turn again.")))


def far(key: str, answer: str, order: Judged = OPEN) -> tuple[str, str]:
    """Of a first verdict, with the order of the wires behind it."""
    first = Verdict(key, "", answer, Certainty.PLAIN, (Sign(Speaks.FOR, "Seen."),))
    record = far_record(Judgement((first, order.verdict), order), UNNAMED)
    return record["word"], record["below"]


def turned(hand: Hand, spacing_deg: int = 120, forward: bool | None = True) -> Judgement:
    """All verdicts on a shaft turned by hand, for a drive with the table of sensors so far apart."""
    tail, leads = turned_by_hand(hand)
    visits, known = visits_of(tail, leads, (), TICK_HZ), Known(turned_forward=forward, spacing_deg=spacing_deg)
    most_v = float(leads.spread.max())
    return verdicts(Grounds(visits, tail, None, 1.0, 0.0, False, TICK_HZ, True, leads.least_v, most_v, known))


def test_what_holds_is_no_answer_to_whether_it_runs() -> None:
    timed = "Hall edges come 0.9 degrees late when turning this way (0.2 on the shaft): good."
    assert far("commutation_timed", timed) == ("Can't be told yet", UNKNOWN)


@pytest.mark.parametrize(
    ("answer", "word", "below"),
    [
        ("A stays low: the sensor, its wire.", "A stays low", "the sensor, its wire."),
        ("A and B never change.", "A and B never change", ""),
        ("Nothing changed. Either it stands, or not.", "Nothing changed", "Either it stands, or not."),
        ("Edges come 0.5 ms late.", "Edges come 0.5 ms late", ""),
    ],
)
def test_a_fault_is_named_by_its_first_clause_and_the_rest_stands_below(answer: str, word: str, below: str) -> None:
    assert far("hall_stuck", answer) == (word, below)


@pytest.mark.parametrize(
    ("key", "answer", "word"),
    [
        ("hall_supply_missing", "The sensors have no supply or no ground.", "Sensors have no supply or no ground"),
        ("voltages_driven", "No: they do not follow the speed.", "Voltages are those of a drive"),
        ("hall_polarity_mixed", "B (green) reads the opposite of A and C: right.", "B reads the opposite of A and C"),
        (
            "hall_misplaced",
            "Sensor B is 12 degrees late (1.7 on the shaft) beside the others.",
            "Sensor B is 12 degrees late beside …",
        ),
        (
            "hall_magnets_uneven",
            "Magnets differ by 4.0 degrees rms; speed over a turn is free of it.",
            "Magnets differ by 4.0 degrees rms",
        ),
        ("lead_silent", "The voltage of W (yellow and long) is missing: its probe.", "The voltage of W is missing"),
    ],
)
def test_a_fault_with_a_long_clause_is_named_in_few_words_and_stands_below_whole(
    key: str, answer: str, word: str
) -> None:
    assert far(key, answer) == (word, answer)


def test_no_plug_is_called_wrong_while_an_input_may_read_inverted() -> None:
    # Sensors at 0, 60, 120 degrees, read by a table for 120: B seems inverted, and the order then seems exchanged.
    judgement = turned(Hand(IN_PLACE, IN_PLACE, 0, 60))
    record = far_record(judgement, UNNAMED)
    assert record["word"] == "B reads the opposite of A and C"
    assert record["below"].startswith("right on a drive set to sensors 60 degrees apart; on one set to 120, an")
    said = judgement.order.verdict.answer
    assert said.startswith("Where the drive is set to sensors 120 degrees apart, even with B read inverted it would")
    assert "Where it is set to 60, it will run the way you turned it as it is wired: no plug is moved" in said


def test_a_60_degree_set_in_a_wrong_order_names_the_moves_for_either_table() -> None:
    said = turned(Hand((2, 1, 0), IN_PLACE, 0, 60)).order.verdict.answer
    for_120, _, for_60 = said.partition(" Where it is set to 60: ")
    assert for_120.startswith("Where the drive is set to sensors 120 degrees apart, ")
    assert for_60.startswith(("Exchange", "Move"))


def test_three_that_read_alike_are_right_for_one_table_and_not_for_the_other() -> None:
    judgement = turned(Hand(IN_PLACE, IN_PLACE, 0, 120), spacing_deg=60)
    assert judgement.verdicts[0].answer.startswith("A, B and C read alike: right on a drive set to sensors 120")
    assert judgement.order.verdict.answer.startswith("Where the drive is set to sensors 120 degrees apart, the order")


def test_a_drive_that_has_the_table_of_the_set_is_told_nothing_of_another() -> None:
    judgement = turned(Hand(IN_PLACE, IN_PLACE, 0, 60), spacing_deg=60)
    assert judgement.order.now == Arrangement(spacing_deg=60)
    assert far_record(judgement, UNNAMED) == {"word": "Would run as it is wired", "below": ""}


def test_which_way_the_hand_went_stands_below_a_wiring_that_is_right() -> None:
    judgement = turned(Hand(IN_PLACE, IN_PLACE, direction=-1), forward=None)
    record = far_record(judgement, UNNAMED)
    assert record == {"word": "Would run as it is wired", "below": "opposite to the way you turned it"}
    assert all(each.certainty is not Certainty.OPEN for each in judgement.verdicts[:2]), "nothing is wrong, nor open"
    late = far_record(turned(Hand(IN_PLACE, IN_PLACE, direction=-1, late_deg=25.0), forward=None), UNNAMED)
    assert late["below"].startswith("opposite to the way you turned it; Hall edges come ")


def test_what_rests_on_few_edges_is_probable_from_across_the_room_too() -> None:
    record = far_record(turned(Hand((0, 2, 1), turns=1.5)), UNNAMED)
    assert record["word"] == "Would not turn as it is wired"
    assert record["below"].startswith("probably, turn further to settle it; exchange ")


def test_timing_that_is_far_off_stands_below_the_word() -> None:
    record = far_record(turned(Hand(IN_PLACE, IN_PLACE, late_deg=25.0)), UNNAMED)
    assert record == {
        "word": "Would run as it is wired",
        "below": "Hall edges come 25.0 degrees late when turning forward",
    }
