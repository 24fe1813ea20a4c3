"""Stories of the software board, which shares no line with the verdicts, through the whole pipeline."""

import pytest

from server.config import RigSettings
from server.pipeline import Pipeline
from server.verdict import Certainty
from server.wiring.following import Fresh
from server.wiring.grounds import Known
from server.wiring.stretch import Stretch
from server.wiring.verdicts import Judgement, verdicts
from simulator.bench import bench_board, bench_motor, story_of
from tests.server.tiny_board import HALLS, PLATE, TinyBoard

_MOTOR = "tender_thruster"
_KNOWN = Known(turned_forward=True, pole_pairs=7)


def _windows(story: str, until_s: float) -> list[Fresh]:
    assert until_s <= story_of(bench_motor(_MOTOR), story).duration_s
    board, pipeline = bench_board(_MOTOR, story=story), Pipeline(RigSettings("r"))
    return [fresh for _ in range(round(2 * until_s)) for fresh in pipeline.push(board.step(0.5), 0.0).turned]


def _judged(windows: list[Fresh], from_s: float, to_s: float) -> Judgement:
    stretch = Stretch(1e6, True, 0.0)
    for fresh in windows:
        if from_s * 1e6 <= fresh.first_tick and fresh.end_tick <= to_s * 1e6:
            stretch.take(fresh)
    return verdicts(stretch.grounds(_KNOWN))


def test_a_hand_that_turns_it_with_three_orders_of_the_hall_wires_has_each_told() -> None:
    windows = _windows("turned by hand with exchanged Hall signals", 34.0)
    for from_s, key, fraction in ((0.6, "good", 1.0), (12.4, "locks", 0.0), (24.4, "weak", -0.5)):
        judgement = _judged(windows, from_s, from_s + 9.4)
        assert judgement.order.verdict.key == f"commutation_{key}"
        assert judgement.order.verdict.certainty is Certainty.PLAIN
        assert judgement.order.fraction == pytest.approx(fraction, abs=0.03)
        assert {verdict.key for verdict in judgement.verdicts[1:]} == {"commutation_timed", "hall_lines_good"}


def test_bad_signals_are_told_and_named() -> None:
    windows = _windows("turned by hand with a bad signal", 32.0)
    answers = [
        _judged(windows, from_s, to_s).verdicts[0].answer for from_s, to_s in ((0.6, 10), (11.4, 21), (22.4, 32))
    ]
    assert answers[0].startswith("B reads the opposite of A and C")
    assert answers[1].startswith("A stays low")
    assert answers[2].startswith("B and C are joined")


def test_a_wrong_order_under_power_is_not_told_from_a_jammed_motor() -> None:
    judgement = _judged(_windows("Hall order that locks", 8.0), 1.0, 8.0)
    assert judgement.verdicts[0].key == "stands_under_power"
    assert judgement.order.mends == ()


def test_a_board_with_inputs_alone_has_its_states_followed_too() -> None:
    board = TinyBoard(channels=(), inputs=HALLS, plate=PLATE.replace("permanent_split_capacitor", "brushless"))
    output = Pipeline(RigSettings("r")).push(board.wire(((4.0, 0.0, 0.0, 600.0),)), 0.0)
    stretch = Stretch(1e6, False, 0.0)
    for fresh in output.turned:
        stretch.take(fresh)
    grounds = stretch.grounds(Known(turned_forward=True))
    assert grounds.course.odd == 0
    assert grounds.course.edges > 100
    assert verdicts(grounds).order.verdict.key == "commutation_unknown"  # six wirings look the same from Halls alone
