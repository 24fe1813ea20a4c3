"""Channels that are missing or dead, and points that no channel is at: from wire bytes and from windows."""

from dataclasses import replace

import numpy as np

from firmware_protocol import InputKind
from server.connection import Correctness, Finding
from server.connection.check import check_window
from server.connection.fitted import fitted
from server.connection.moment import Moment
from server.motors import BRUSHLESS, PERMANENT_SPLIT_CAPACITOR, THREE_PHASE_INDUCTION, motor_type
from server.quantities import window_analysis
from server.samples import Input
from tests.server.pipelines import run
from tests.server.quantities.windows import current, voltage, waves, window
from tests.server.signals.slow import series
from tests.server.tiny_board import TinyBoard

RUNS = Moment(True, False)


def by_id(findings: list[Finding]) -> dict[tuple[str, str, str], Finding]:
    return {each.id: each for each in findings}


def test_a_channel_that_the_type_needs_and_the_board_has_not_is_named() -> None:
    found = by_id(fitted([voltage("L1"), current("L1"), current("L2")], [], THREE_PHASE_INDUCTION))
    missing = found["fitted", "voltage", "L2"]
    assert missing.verdict is Correctness.WRONG
    assert missing.text == "No channel of the board measures the voltage of L2."
    assert missing.change == 'Connect it, or let the board call the place of its channel "L2".'
    assert found["fitted", "current", "L2"].verdict is Correctness.RIGHT
    assert ("fitted", "current", "L3") not in found


def test_a_hall_input_that_is_missing_is_named() -> None:
    halls = [Input(k, InputKind.HALL, f"Hall {letter}", k) for k, letter in enumerate("AC")]
    found = by_id(fitted([voltage("dc link"), current("dc link")], halls, BRUSHLESS))
    assert found["fitted", "hall", "B"].text == "No input of the board measures Hall B."
    assert found["fitted", "hall", "A"].verdict is Correctness.RIGHT


def test_a_dead_channel_in_the_middle_of_its_range_is_told_while_others_move() -> None:
    amps = waves(50.0, series({1: 1.0 + 0j}))[0]
    dead = voltage("supply", low=-5.0, high=45.0)
    a = window_analysis(window([dead, current()], [np.full(amps.shape, 20.0), amps]), PERMANENT_SPLIT_CAPACITOR)
    assert a is not None
    finding = by_id(check_window(a, PERMANENT_SPLIT_CAPACITOR, RUNS)[0])["alive", "voltage", "supply"]
    assert finding.verdict is Correctness.WRONG
    assert finding.text == "The voltage of supply stood at 20 V, the middle of its range, without any noise."
    assert finding.change.startswith("Nothing seems to be connected to this input of the board")


def test_channels_that_all_stand_still_are_not_called_dead() -> None:
    a = window_analysis(window([voltage(), current()], [np.zeros(4000), np.zeros(4000)]), PERMANENT_SPLIT_CAPACITOR)
    assert a is not None
    finding = by_id(check_window(a, PERMANENT_SPLIT_CAPACITOR, RUNS)[0])["alive", "voltage", "supply"]
    assert finding.verdict is Correctness.UNKNOWN


def test_a_window_with_a_gap_is_not_asked() -> None:
    shape = waves(50.0, series({1: 1.0 + 0j}))[0]
    gappy = window([voltage(), current()], [shape, shape], missing=slice(100, 200))
    a = window_analysis(gappy, PERMANENT_SPLIT_CAPACITOR)
    assert a is not None
    assert check_window(a, PERMANENT_SPLIT_CAPACITOR, RUNS)[0] == []


def test_no_voltage_while_current_flows_is_told_from_the_bytes() -> None:
    story = ((1.0, 0.0, 0.0, 0.0), (0.4, 0.0, 1.5, 1400.0), (2.0, 0.0, 0.5, 1400.0))
    outputs = run(TinyBoard().wire(story))
    told = [each.findings for each in outputs if each.findings is not None][-1]
    finding = by_id(list(told))["across", "voltage", "supply"]
    assert finding.verdict is Correctness.WRONG
    assert "was below" in finding.text
    assert finding.text.endswith("A flowed.")


def test_every_type_can_be_asked_of_a_board_with_a_channel_at_each_of_its_points() -> None:
    for key in ("shaded_pole", "servo", "compound_dc"):
        motor = motor_type(key)
        assert motor is not None
        channels = [replace(voltage(motor.voltage_place), index=0), replace(current(motor.current_place), index=1)]
        shape = waves(50.0, series({1: 1.0 + 0j}, mean=3.0))[0]
        a = window_analysis(window(channels, [shape, shape]), motor)
        assert a is not None
        assert check_window(a, motor, RUNS)[0]
