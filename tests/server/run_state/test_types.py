"""Run states of each type on its software board, against what the story did."""

import pytest

from tests.server.bench_stories import told, when

_LONG = (
    *("air_compressor", "anchor_windlass", "bilge_pump", "clock_drive", "clock_drive_reluctance"),
    *("hand_planer", "lathe", "lathe_cumulative"),
)
_LATER = [pytest.param(each, marks=pytest.mark.long) for each in _LONG]


@pytest.mark.parametrize("motor", ["bench_grinder", "galley_extractor", "slipway_pump", *_LATER])
def test_a_start_a_run_and_a_coast_are_told(motor: str) -> None:
    states = told(motor, "start and load").states()
    assert [state for state, _ in states] == ["unknown", "starting", "running", "coasting"]
    assert states[1][1] == pytest.approx(when(motor, "start and load", "supply_on", 1.0), abs=0.03)
    off_s = when(motor, "start and load", "supply_on", 0.0, 1)  # the first is the value at rest
    assert off_s - 0.01 < states[3][1] < off_s + 2.0  # an armature with its field beside it feeds the field on


_STALLED = ("hand_planer", "bilge_pump", "lathe_cumulative", "anchor_windlass")


@pytest.mark.parametrize(
    "motor", ["galley_extractor", *(pytest.param(each, marks=pytest.mark.long) for each in _STALLED)]
)
def test_a_stall_and_its_release_are_told(motor: str) -> None:
    story = told(motor, "stall and release")
    jammed_s = when(motor, "stall and release", "jammed", 1.0)
    on_s = when(motor, "stall and release", "supply_on", 1.0)
    at = next(since for state, since in story.states() if state == "stalled")
    assert at == pytest.approx(max(jammed_s, on_s), abs=0.05)
    freed_s = when(motor, "stall and release", "jammed", 0.0, 1)
    assert any(state in ("starting", "running") and freed_s < since < freed_s + 1.0 for state, since in story.states())


def test_a_stall_of_a_shaded_pole_motor_is_told_in_doubt() -> None:
    reading = told("galley_extractor", "stall and release").reading("run_state", 8.0)
    assert (reading.value, reading.confidence.value) == ("stalled", "doubtful")
    assert reading.reason == ("the current of this type is nearly the same running and held: judged by the shaft alone")


def test_a_lost_line_of_a_running_three_phase_motor_is_no_coasting() -> None:
    states = told("slipway_pump", "phase lost in the run").states()
    assert [state for state, _ in states] == ["unknown", "starting", "running", "coasting"]


@pytest.mark.parametrize("motor", ["hatch_actuator", "gimbal"])
def test_what_also_holds_on_purpose_is_never_called_stalled(motor: str) -> None:
    states = {state for state, _ in told(motor, "stall and release").states()}
    assert "running" in states
    assert "stalled" not in states


def test_a_stepping_motor_that_lost_its_steps_is_unknown_with_the_reason() -> None:
    reading = told("hatch_actuator", "stall and release").reading("run_state", 10.0)
    assert reading.value == "unknown"
    assert reading.reason == "current flows and the shaft stands: this type also holds it so on purpose"


def test_a_servo_gives_no_power_events_as_its_bridge_comes_and_goes() -> None:
    assert "power_on" not in [kind for kind, _ in told("gimbal", "start and load").kinds()]


def test_the_coil_of_a_stepping_motor_has_a_quarter_of_the_step_rate() -> None:
    # One electrical turn of a two-phase motor is four full steps.
    assert told("hatch_actuator", "start and load").reading("frequency_hz", 6.0).value == pytest.approx(25.0, rel=0.001)


def test_a_synchronous_motor_slips_by_nothing_while_it_is_in_step() -> None:
    assert told("clock_drive", "start and load").reading("slip", 12.0).value == pytest.approx(0.0, abs=1e-4)
