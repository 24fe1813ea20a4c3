"""A person changes wiring and drive while the board runs: what is taken and refused, and what the model then does."""

import json
from typing import Any

import numpy as np
import pytest

from simulator.bench import bench_motor, bench_source, taught
from simulator.motor_source import MotorSource
from simulator.source import Stretch
from simulator.teaching import DRIVES, Teaching
from tests.simulator.wirings import CLASSES, HALL_ORDERS, PHASE_ORDERS

TICKS = 50_000  # a stretch of 50 ms, as boards ask for
FORWARD = [5, 1, 3, 2, 6, 4]


def told(teaching: Teaching, order: object) -> dict[str, Any]:
    answer = json.loads(teaching.tell(json.dumps(order)))
    assert isinstance(answer, dict)
    return answer


class Bench:
    """A source that a person tells things, played stretch by stretch."""

    def __init__(self) -> None:
        motor = bench_motor("net_winder")
        self.teaching = taught(motor)
        self.source: MotorSource = bench_source(motor, teaching=self.teaching)
        self._tick = 0

    def played(self, seconds: float) -> list[Stretch]:
        stretches = []
        for _ in range(round(seconds / 0.05)):
            stretches.append(self.source.advance(self._tick, self._tick + TICKS))
            self._tick += TICKS
        return stretches

    def set(self, **settings: str | float) -> None:
        assert "error" not in told(self.teaching, {"set": settings})

    def way(self, seconds: float) -> int:
        """Net steps forward through the healthy states in the next seconds."""
        states = [state for stretch in self.played(seconds) for state in stretch.edge_states.tolist()]
        places = [FORWARD.index(state) for state in states if state in FORWARD]
        steps = np.diff(places) % 6
        return int(np.count_nonzero(steps == 1) - np.count_nonzero(steps == 5))


@pytest.fixture
def bench() -> Bench:
    return Bench()


def test_who_asks_is_told_what_holds_and_what_can_be_set_and_the_stories_go_on(bench: Bench) -> None:
    answer = told(bench.teaching, {"ask": True, "id": 7})
    assert (answer["id"], answer["teaching"], answer["settings"]["drive"]) == (7, False, "off")
    assert answer["settings"]["hall_order"] == "ABC"
    choices = {choice["key"]: choice for choice in answer["choices"]}
    assert set(choices) == set(answer["settings"])
    assert [value["value"] for value in choices["drive"]["values"]] == list(DRIVES)
    assert [value["value"] for value in choices["phase_order"]["values"]] == list(PHASE_ORDERS)
    assert (choices["hall_late_deg"]["low"], choices["hall_late_deg"]["high"]) == (-60, 60)
    bench.played(0.1)
    assert bench.source.story.name == "by hand, then 1 A, then 3 A"


def test_a_change_takes_hold_within_a_tenth_of_a_second_and_stories_begin_anew_when_asked(bench: Bench) -> None:
    bench.played(0.2)
    bench.set(hall_stuck_high="A+B+C")
    bench.played(0.1)
    assert bench.source.levels == 7
    assert bench.source.story.name == "changed by hand"
    assert told(bench.teaching, {"stories": True})["teaching"] is False
    bench.played(0.1)
    assert bench.source.story.name == "by hand, then 1 A, then 3 A"
    assert bench.source.levels != 7
    assert told(bench.teaching, {"ask": True})["settings"]["hall_stuck_high"] == "none"


@pytest.mark.parametrize(
    ("hall", "phase"), [("ABC", "UVW"), ("BAC", "UWV"), ("ACB", "UVW"), ("CAB", "UVW"), ("ABC", "VWU")]
)
def test_driven_at_3_a_the_model_runs_as_the_class_of_the_wiring(bench: Bench, hall: str, phase: str) -> None:
    wiring = CLASSES[HALL_ORDERS.index(hall)].split()[PHASE_ORDERS.index(phase)]
    bench.set(hall_order=hall, phase_order=phase, drive="drive_3_a")
    bench.played(1.5)
    trace = bench.source._motor.advance(2_000)
    bench.source._sample += 2_000
    speed = float(np.mean(trace.speed_rad_s))
    if wiring == "L":
        assert abs(speed) < 2
    else:
        assert np.sign(speed) == (1 if wiring in "Ffefl" else -1), wiring
        assert abs(speed) > (100 if wiring in "FR" else 10)


def test_a_hand_turns_forward_backward_and_both_ways_and_off_holds_it(bench: Bench) -> None:
    bench.set(drive="hand_forward")
    assert bench.way(3.0) > 30  # a turn of the shaft has 24
    bench.set(drive="hand_backward")
    bench.played(0.2)
    assert bench.way(3.0) < -30
    bench.set(drive="off")
    bench.played(0.5)
    assert bench.way(1.0) == 0
    bench.set(drive="hand_back_and_forth")
    states = [len(stretch.edge_states) for stretch in bench.played(6.0)]
    assert sum(states) > 48  # two turns of the shaft and more
    assert not any(np.any(stretch.groups[0][4:7]) for stretch in bench.played(0.5))  # off the bridge: no current


@pytest.mark.parametrize(("drive", "edges"), [("hand_one_turn", 24), ("hand_two_turns_each_way", 96)])
def test_a_hand_makes_whole_turns_and_holds_the_shaft(bench: Bench, drive: str, edges: int) -> None:
    """Four pole pairs have 24 edges a turn; that the last one lies where the first was may cost or add one a way."""
    bench.set(drive=drive)
    seen = sum(len(stretch.edge_states) for stretch in bench.played(5.0))
    assert abs(seen - edges) <= 2
    assert bench.way(1.0) == 0


def test_spun_by_a_driver_it_is_let_go_and_coasts_to_rest(bench: Bench) -> None:
    bench.set(drive="spin")
    bench.played(1.3)
    spun = float(bench.source._motor.advance(1).speed_rad_s[0])
    bench.source._sample += 1
    assert spun == pytest.approx(900 * np.pi / 30, rel=0.05)
    bench.played(2.5)
    assert abs(float(bench.source._motor.advance(1).speed_rad_s[0])) < 1


def test_power_taken_away_it_coasts_and_wires_moved_meanwhile_show_at_once(bench: Bench) -> None:
    bench.set(drive="drive_1_a")
    bench.played(1.5)
    bench.set(drive="coast", hall_order="BAC")
    bench.played(0.1)
    assert bench.way(0.15) < -10  # the exchanged signals run the other way round
    bench.played(2.0)
    assert bench.way(0.5) == 0


@pytest.mark.parametrize(
    ("line", "key", "said"),
    [
        ('{"set": {"hall_ordr": "BCA"}}', "hall_ordr", 'no setting "hall_ordr"; the nearest is hall_order'),
        ('{"set": {"hall_order": "BCD"}}', "hall_order", "'BCD' is no number; write one of ABC, ACB"),
        ('{"set": {"hall_late_deg": 61}}', "hall_late_deg", "61 is outside -60 to 60"),
        ('{"set": {"hall_late_deg": NaN}}', "hall_late_deg", "nan is outside"),
        ('{"set": {"hall_order": [1]}}', "hall_order", "write a word or a number"),
        ('{"set": {"drive": "drive_60_a"}}', "drive", "There is no drive"),
        ('{"set": {"direction": 0}}', "direction", "0 cannot be set; write 1 or -1"),
        ('{"set": {"direction": 0.5}}', "direction", "0.5 cannot be set; write 1 or -1"),
        ('{"set": {"source_v": 400}}', "source_v", "no setting"),
        ('{"set": {"duty": 1}}', "duty", "no setting"),
        ('{"set": 3}', "", "Write {"),
        ("{}", "", "Write {"),
        ("[]", "", "Write one JSON object a line"),
        ("hall_order = BCA", "", "Write one JSON object a line"),
        ("[" * 100_000, "", "Write one JSON object a line"),
    ],
)
def test_what_cannot_be_set_is_refused_with_its_key_and_changes_nothing(
    bench: Bench, line: str, key: str, said: str
) -> None:
    answer = json.loads(bench.teaching.tell(line))
    assert said in answer["error"]
    assert answer.get("key", "") == key
    assert not bench.teaching.on


def test_of_a_line_that_is_refused_nothing_is_done(bench: Bench) -> None:
    answer = told(bench.teaching, {"set": {"hall_order": "BCA", "phase_order": "XYZ"}, "id": "a"})
    assert (answer["id"], answer["key"]) == ("a", "phase_order")
    assert told(bench.teaching, {"ask": True})["settings"]["hall_order"] == "ABC"


def test_a_motor_without_hall_sensors_says_so() -> None:
    answer = told(taught(bench_motor("bilge_pump")), {"set": {"hall_order": "BCA"}})
    assert answer == {"error": "The bilge pump has no Hall wiring that could be changed; its stories can be played."}
