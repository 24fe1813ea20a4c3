"""What the Wiring screen gathers of a rig: only while somebody looks, and no longer than the rig is there."""

import gc
import weakref

from server.checking import CHECKS_S, LISTENS_S, Checking
from server.config import RigSettings
from server.live.records import Shown
from server.live.view import View
from server.pipeline import Output, Pipeline
from server.procedures.hall_records import Act, Told
from server.verdict import Certainty, Sign, Speaks, Verdict
from tests.server.pipelines import wire
from tests.server.turned_board import messages
from tests.server.wiring.turned import Hand

DATA = wire(messages(Hand(turns=4.0)))


class Bench:
    """One view, a board behind it, and a clock that the test moves."""

    def __init__(self) -> None:
        self.now_s, self.view = 1_795_600_000.0, View("r")
        self.checking = Checking(lambda: self.now_s)

    def turn(self) -> None:
        pipeline = Pipeline(RigSettings("r"))
        for at in range(0, len(DATA), 5000):
            for part in pipeline.push(DATA[at : at + 5000], 0.0).parts:
                motor = pipeline.motor
                self.view.motor = Shown(motor.name, motor.type, motor.plate, "board")
                self.view.take(part, part.clock)

    def word(self) -> str | None:
        far = self.checking.record(self.view)["far"]
        return None if far is None else str(far["word"])


def test_a_rig_that_is_gone_is_not_held() -> None:
    bench = Bench()
    bench.word()
    bench.turn()
    gone = weakref.ref(bench.view)
    bench.view = View("other")
    gc.collect()
    assert gone() is None


def test_nothing_is_gathered_before_the_screen_is_opened_nor_long_after() -> None:
    bench = Bench()
    bench.turn()
    assert bench.word() is None
    bench.turn()
    assert bench.word() == "Would run as it is wired"
    bench.now_s += LISTENS_S + 1.0
    bench.turn()
    assert not bench.view.followers
    assert bench.word() is None


def test_a_check_waits_longer_for_its_person_and_is_forgotten_at_last() -> None:
    bench = Bench()
    bench.checking.begin(bench.view)
    bench.checking.act(bench.view, Told(Act.SKIP))
    bench.now_s += LISTENS_S + 1.0
    bench.turn()
    assert bench.checking.record(bench.view)["check"]["key"] == "supply"
    bench.now_s += CHECKS_S + 1.0
    bench.turn()
    assert bench.checking.record(bench.view)["check"] is None


def test_a_check_that_is_left_asks_nothing_more() -> None:
    bench = Bench()
    bench.checking.begin(bench.view)
    bench.checking.leave(bench.view)
    bench.checking.act(bench.view, Told(Act.AGREE))
    assert bench.checking.record(bench.view)["check"] is None


def test_what_is_concluded_of_the_run_stands_behind_what_a_hand_showed() -> None:
    bench = Bench()
    bench.word()
    bench.turn()
    sign = (Sign(Speaks.FOR, "Phase W carries 0.0 A."),)
    lead_off = Verdict("phase_current_missing", "Do all phases carry current?", "W is off.", Certainty.PLAIN, sign)
    told = Output(verdicts=(lead_off,))
    bench.view.take(told, told.clock)
    keys = [each["key"] for each in bench.checking.record(bench.view)["verdicts"]]
    assert keys[0].startswith("commutation_")
    assert keys[-1] == "phase_current_missing"
