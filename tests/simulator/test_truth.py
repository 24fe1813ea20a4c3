"""Ground truth: what happened, told by the shaft and the switch and not by any signal."""

import pytest

from simulator.bench import bench_board
from simulator.source import TruthRow


def _rows(key: str, story: str, seconds: float) -> list[TruthRow]:
    board = bench_board(key, 3, story=story, truth=True)
    rows = []
    for _ in range(round(seconds)):
        board.step(1.0)
        rows += board.take_truth()
    return rows


def test_states_faults_and_controls_come_when_they_came() -> None:
    rows = _rows("cabin_ventilator", "stall and release", 30)
    assert [row.board_s for row in rows] == sorted(row.board_s for row in rows)
    states = [(row.values["state"], row.board_s) for row in rows if row.kind == "state"]
    assert [state for state, _ in states] == [
        "resting", "starting", "running", "stalled", "starting", "running", "stalled", "resting",
    ]  # fmt: skip
    began = dict(states[1:4])
    assert 1.5 <= float(began["starting"]) < 1.52
    assert 7.19 <= float(began["stalled"]) < 7.25
    faults = [(row.values["faults"], row.board_s) for row in rows if row.kind == "faults"]
    assert faults == [(["locked_rotor"], 7.0), ([], 12.0), (["locked_rotor"], 19.0), ([], 23.0)]


def test_speed_torque_and_temperature_come_every_ten_milliseconds() -> None:
    series = [row for row in _rows("cabin_ventilator", "start and load", 8) if row.kind == "series"]
    assert [row.board_s for row in series] == pytest.approx([k / 100 for k in range(801)])
    running = [row for row in series if 6 < row.board_s < 8]
    speeds = [float(str(row.values["speed_rpm"])) for row in running]
    assert 1370 < min(speeds) <= max(speeds) < 1390
    assert float(str(running[-1].values["winding_c"])) > 20.0


def test_a_contact_that_opens_is_an_event_with_its_time() -> None:
    story = next(iter(_grinder_starts()))
    rows = _rows("bench_grinder", story, 8)
    opened = [
        row for row in rows if row.kind == "contact" and row.values == {"name": "start_circuit_closed", "value": 0.0}
    ]
    started = next(
        row for row in rows if row.kind == "control" and row.values == {"control": "supply_on", "value": 1.0}
    )
    assert 0.3 < opened[-1].board_s - started.board_s < 3.0


def _grinder_starts() -> list[str]:
    from simulator.bench import bench_motor

    return [story.name for story in bench_motor("bench_grinder").stories]


def test_a_stepper_at_rest_holds_and_one_that_is_blocked_stalls() -> None:
    states = {row.values["state"] for row in _rows("hatch_actuator", "start and load", 12) if row.kind == "state"}
    assert "stalled" not in states
    assert "holding" in states
    stalled = _rows("hatch_actuator", "stall and release", 12)
    assert "stalled" in {row.values["state"] for row in stalled if row.kind == "state"}


def test_a_motor_whose_cut_out_has_opened_is_off() -> None:
    rows = _rows("air_compressor", "thermal cut-out cycles", 75)
    opened = next(row.board_s for row in rows if row.values == {"name": "cutout_closed", "value": 0.0})
    after = [row.values["state"] for row in rows if row.kind == "state" and row.board_s >= opened - 0.011]
    assert after == ["resting"]


def test_nothing_is_told_unless_it_is_asked_for() -> None:
    board = bench_board("cabin_ventilator")
    board.step(2.0)
    assert board.take_truth() == []
