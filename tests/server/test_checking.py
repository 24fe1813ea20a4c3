"""What the Wiring screen gathers of a rig: only while somebody looks, and no longer than the rig is there."""

import gc
import weakref
from dataclasses import replace

import pytest

from firmware_protocol import ChannelDescription, Identity, Role
from server import judging
from server.checking import Checking
from server.config import Plate, RigSettings
from server.hall.supply import SENSOR_SUPPLY
from server.judging import CHECKS_S, LISTENS_S
from server.live.records import Shown
from server.live.view import View
from server.motors import BRUSHLESS
from server.pipeline import Output, Pipeline
from server.procedures import hall_check
from server.procedures.hall_guide import Key
from server.procedures.hall_records import Act, Told
from server.quantities.commutation import RECTIFIED, SECTOR_CURRENTS
from server.readings import Reading
from server.samples import Channel, SlowSample
from server.verdict import Verdict
from server.verdicts.phase_currents import phase_verdict
from server.verdicts.rule import Look
from tests.server.pipelines import wire
from tests.server.turned_board import messages
from tests.server.wiring.turned import Hand

DATA = wire(messages(Hand(turns=4.0)))
EXCHANGED = wire(messages(Hand(halls=(0, 2, 1), turns=4.0)))


class Bench:
    """One view, a board behind it, and clocks that the test moves."""

    def __init__(self) -> None:
        self.now_s, self.utc_s, self.view = 0.0, 1_795_600_000.0, View("r")
        self.checking = Checking(lambda: self.utc_s, lambda: self.now_s)

    def turn(self, data: bytes = DATA) -> None:
        pipeline = Pipeline(RigSettings("r"))
        for at in range(0, len(data), 5000):
            for part in pipeline.push(data[at : at + 5000], 0.0).parts:
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


def test_a_clock_of_the_day_that_is_set_changes_nothing() -> None:
    bench = Bench()
    bench.word()
    bench.utc_s += 1e6
    bench.turn()
    assert bench.word() == "Would run as it is wired"


def test_what_was_told_before_nobody_looked_is_not_told_of_what_is_turned_afterwards() -> None:
    bench = Bench()
    bench.word()
    bench.turn()
    assert bench.word() == "Would run as it is wired"
    bench.now_s += LISTENS_S + 1.0
    bench.turn()
    bench.word()
    bench.turn(EXCHANGED)  # as many windows as before
    assert bench.word() == "Would not turn as it is wired"


def test_a_check_knows_nothing_of_the_board_that_an_earlier_one_has_seen() -> None:
    bench = Bench()
    bench.checking.begin(bench.view)
    bench.turn()
    assert bench.checking.record(bench.view)["check"]["can_short"]
    bench.checking.leave(bench.view)
    other = [
        replace(each, place="XYZ"[each.index])
        if isinstance(each, ChannelDescription)
        else replace(each, serial="T-8")
        if isinstance(each, Identity)
        else each
        for each in messages(Hand(turns=4.0))
    ]
    bench.turn(wire(other))
    bench.checking.begin(bench.view)
    bench.turn(wire(other))
    check = bench.checking.record(bench.view)["check"]
    assert not check["can_short"]  # leads that nobody measures


def fails(*_: object) -> None:
    raise ZeroDivisionError("told by the test")


@pytest.mark.parametrize("where", ["a window", "an answer", "an act"])
def test_a_judge_that_fails_is_our_own_fault_told_once_and_never_the_rigs(
    where: str, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    bench = Bench()
    bench.checking.begin(bench.view)
    if where == "an answer":
        bench.checking.leave(bench.view)
        monkeypatch.setattr(judging, "verdicts", fails)
    else:
        monkeypatch.setitem(hall_check._JUDGES, Key.PLATE, fails)
    if where == "an act":
        bench.checking.act(bench.view, Told(Act.AGREE))
    bench.turn()
    for _ in range(2):
        record = bench.checking.record(bench.view)
        assert record["far"]["below"].startswith("our own fault: judging what was turned failed (ZeroDivisionError: ")
        assert (record["check"], record["verdicts"]) == (None, [])
    assert not bench.view.followers
    assert len(caplog.records) == 1
    monkeypatch.undo()
    bench.now_s += CHECKS_S + 1.0
    bench.word()
    bench.turn()
    assert bench.word() == "Would run as it is wired"


def test_the_check_is_judged_once_for_all_viewers(monkeypatch: pytest.MonkeyPatch) -> None:
    bench = Bench()
    bench.checking.begin(bench.view)
    bench.turn()
    first = bench.checking.record(bench.view)["check"]
    monkeypatch.setattr(judging, "check_record", fails)
    assert bench.checking.record(bench.view)["check"] is first


def test_marked_turns_of_the_check_are_held_against_the_plate() -> None:
    # A hand that turns 4 electrical turns between the marks: 24 edges are 4 pole pairs, the plate of the board says 7.
    bench = Bench()
    bench.checking.begin(bench.view)
    while bench.checking.record(bench.view)["check"]["key"] != "pairs":
        bench.checking.act(bench.view, Told(Act.SKIP))
    bench.checking.act(bench.view, Told(Act.AGREE))
    for certainty in ("probable", "plain"):
        bench.turn()
        bench.checking.act(bench.view, Told(Act.COUNTED))
        found = {each["key"]: each for each in bench.checking.record(bench.view)["verdicts"]}
        assert found["pole_pairs_differ"]["answer"].startswith("4 pole pairs, the plate says 7.")
        assert found["pole_pairs_differ"]["certainty"] == certainty


def test_noise_of_the_sensors_current_is_no_news(monkeypatch: pytest.MonkeyPatch) -> None:
    bench = Bench()
    bench.word()
    bench.turn()
    supply = Channel(3, Role.CURRENT, "sensors", SENSOR_SUPPLY, "A", 0.0, 0.1)
    told = [Output(slow=(SlowSample(supply, k, k, amps, False),)) for k, amps in enumerate((0.0121, 0.0119, 0.0600))]
    bench.view.take(told[0], told[0].clock)
    assert bench.word() == "Would run as it is wired"
    monkeypatch.setattr(judging, "verdicts", fails)
    bench.view.take(told[1], told[1].clock)
    assert bench.word() == "Would run as it is wired"
    monkeypatch.undo()
    bench.view.take(told[2], told[2].clock)
    assert bench.word() == "Off now"


def run_verdict(lead: int) -> Verdict:
    """What the rule itself says of a lead that carries nothing."""
    phases = tuple(0.0 if k == lead else 5.0 for k in range(3))
    readings = (Reading(SECTOR_CURRENTS, (5.0,) * 6), Reading(RECTIFIED, phases))
    look = Look(1.0, {each.id: each for each in readings}, BRUSHLESS, Plate(current_a=10.0))
    verdict = phase_verdict(look)
    assert verdict is not None
    return verdict


def test_what_is_concluded_of_the_run_stands_behind_what_a_hand_showed_each_phase_for_itself() -> None:
    bench = Bench()
    bench.word()
    bench.turn()
    told = Output(verdicts=(run_verdict(2), run_verdict(1)))
    bench.view.take(told, told.clock)
    found = bench.checking.record(bench.view)["verdicts"]
    assert found[0]["key"].startswith("commutation_")
    assert [each["key"] for each in found[-2:]] == ["phase_open", "phase_open"]
    assert [each["answer"][:7] for each in found[-2:]] == ["Phase W", "Phase V"]
    bench.view.forget()  # of another motor
    assert "phase_open" not in [each["key"] for each in bench.checking.record(bench.view)["verdicts"]]


def test_what_was_concluded_of_the_run_is_forgotten_with_the_wires_until_three_looks_conclude_it_again() -> None:
    bench = Bench()
    bench.word()
    bench.turn()
    told = Output(verdicts=(run_verdict(2),))

    def keys() -> list[str]:
        return [each["key"] for each in bench.checking.record(bench.view)["verdicts"]]

    bench.view.take(told, told.clock)
    assert "phase_open" in keys()
    bench.checking.anew(bench.view)
    assert keys() == ["nothing_moved", "commutation_unknown"]
    for count in (1, 2, 3):
        assert "phase_open" not in keys(), count
        bench.view.take(told, told.clock)
    assert "phase_open" in keys()
