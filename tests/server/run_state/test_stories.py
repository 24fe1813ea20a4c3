"""Run states against what the simulated motors really did: which, and since when."""

import numpy as np
import pytest

from server.config import RigSettings
from server.pipeline import Pipeline
from simulator.bench import bench_board
from tests.server.bench_stories import told, when

VENTILATOR, THRUSTER = "cabin_ventilator", "tender_thruster"


def near(states: list[tuple[str, float]], expected: list[tuple[str, float, float]]) -> None:
    """Each state in turn, since a moment within so many seconds."""
    assert [state for state, _ in states] == [state for state, _, _ in expected], states
    for (state, since_s), (_, true_s, within_s) in zip(states, expected, strict=True):
        assert since_s == pytest.approx(true_s, abs=within_s), state


def test_a_fan_that_is_held_and_freed_is_stalled_as_long_as_it_is_held() -> None:
    # One pulse a turn: what stands is known when the next is late, what came free with the next two.
    near(
        told(VENTILATOR, "stall and release").states(),
        [
            ("unknown", 0.0, 0.01),
            ("starting", 1.5, 0.02),
            ("running", 1.976, 0.04),  # 95 % of its speed, from the motor's equations
            ("stalled", 7.0, 0.03),
            ("starting", 12.0, 0.15),
            ("running", 12.476, 0.06),
            ("stalled", 19.0, 0.03),
            ("resting", 21.5, 0.05),
        ],
    )


def test_a_held_fan_is_never_told_as_running_once_its_speed_reads_zero_nor_as_unknown_after_it() -> None:
    states = told(VENTILATOR, "stall and release").readings("run_state")
    assert {reading.value for at, reading in states if 7.6 <= at <= 12.0} == {"stalled"}
    after = [reading for at, reading in states if at >= 21.6]
    assert {reading.value for reading in after} == {"resting"}
    assert after[0].reason == "it was held until its current ended: no edge came since"
    assert after[-1].reason == ""  # 12 s without a pulse prove it


def test_a_motor_that_never_turned_was_stalled_from_its_first_current_on() -> None:
    near(
        told(VENTILATOR, "start without capacitor").states(),
        [
            ("unknown", 0.0, 0.01),
            ("stalled", 2.0, 0.02),  # told when the time of a start has passed
            ("resting", 8.0, 0.05),
            ("starting", 10.5, 0.02),
            ("running", 10.976, 0.04),
            ("coasting", 18.0, 0.02),
            ("resting", 23.0, 0.7),  # stopped by hand within the turn that began with the last pulse
        ],
    )


def test_a_drive_that_is_held_is_stalled_from_the_moment_it_was() -> None:
    story = told(THRUSTER, "load and stall")
    held_s, freed_s = (when(THRUSTER, "load and stall", "jammed", value, n) for value, n in ((1, 0), (0, 1)))
    near(
        story.states(),
        [
            ("resting", 0.0, 0.01),
            ("starting", 1.52, 0.02),
            ("running", 2.27, 0.05),  # a ramp of 0.8 s that begins at 1.5 s
            ("stalled", held_s, 0.02),
            ("starting", freed_s, 0.03),
            ("running", freed_s, 0.04),
            ("coasting", 20.0, 0.02),
            ("resting", 20.1, 0.1),
        ],
    )


def test_a_motor_that_reads_no_speed_is_not_running() -> None:
    for motor, story in ((THRUSTER, "load and stall"), (VENTILATOR, "stall and release"), (THRUSTER, "reversal")):
        said = told(motor, story)
        speeds = dict(said.readings("speed_rpm"))
        for at, state in said.readings("run_state"):
            assert state.value != "running" or speeds[at].value != 0.0, (story, at)


def test_a_drive_that_brakes_to_rest_does_not_coast() -> None:
    states = told(THRUSTER, "reversal").states()
    assert [state for state, _ in states[:4]] == ["resting", "starting", "running", "resting"]
    assert states[3][1] == pytest.approx(6.8, abs=0.03)  # the end of the ramp


def test_a_fan_that_stood_is_not_drawn_as_standing_while_its_current_flows_and_no_pulse_has_come() -> None:
    board, pipeline = bench_board(VENTILATOR, story="stall and release"), Pipeline(RigSettings("r"))
    outputs = [pipeline.push(board.step(0.5), 0.0) for _ in range(78)]  # the story and the start of its second round
    rows = [row for output in outputs for fast in output.fast for row in zip(fast.board_s, fast.speed_rpm, strict=True)]
    again_s = 36.0 + when(VENTILATOR, "stall and release", "supply_on", 1)
    begun = [rpm for at, rpm in rows if again_s + 0.02 < at < again_s + 0.2]
    assert len(begun) > 15
    assert np.isnan(begun).all()
    assert not np.isnan([rpm for at, rpm in rows if again_s + 0.5 < at < again_s + 1.0]).any()
