"""Channels that differ by their delay, and lines that differ by their rate."""

from dataclasses import replace

import numpy as np
import pytest

from firmware_protocol import Role
from server.live.pair import drawn_lines
from server.live.ring import Ring
from server.live.trace import drawn_trace, phase_marks
from server.live.window import Window
from server.motors import motor_type
from server.samples import Channel
from tests.server.live.blocks import block, channel, sines

RATE_HZ = 20_000.0


@pytest.mark.parametrize("delay_s", [0.0, 50e-6, 130e-6, -70e-6])
def test_a_delay_of_one_channel_turns_no_power_round(delay_s: float) -> None:
    """The current's channel shows what was `delay_s` before; in truth current and voltage are in phase."""
    values = np.stack((sines(0.2)[0], sines(0.2, lag_deg=360 * 50 * delay_s)[1]))
    channels = (
        channel(0, Role.VOLTAGE, "supply", 400.0),
        replace(channel(1, Role.CURRENT, "line", 5.0), delay_s=delay_s),
    )
    ring = Ring(block(values, channels=channels))
    ring.take(block(values, channels=channels))
    trace = drawn_trace(Window(0.02, 0.06, 3), drawn_lines([ring], None), 600)
    power = trace["power"]
    assert isinstance(power, dict)
    assert power["mean"] == pytest.approx(325 / 2, rel=2e-3)
    assert power["back_percent"] == pytest.approx(0, abs=0.01)
    lines = trace["lines"]
    assert isinstance(lines, list)
    for line in lines:  # both rise through zero at the start
        assert abs(line["low"][0]) < 0.035 * line["peak"][1]


def test_a_slow_group_beside_a_fast_one_is_joined_by_straight_lines_over_the_same_time() -> None:
    fast, slow = Ring(block(sines(1.0))), Ring(block(np.zeros((1, 1)), channels=(slow_channel(),), rate_hz=1000.0))
    fast.take(block(sines(1.0)))
    slow.take(block(sines(1.0, rate_hz=1000.0)[1:], channels=(slow_channel(),), rate_hz=1000.0))
    trace = drawn_trace(Window(0.9, 0.06, 3), drawn_lines([fast, slow], None), 600)
    lines = trace["lines"]
    assert isinstance(lines, list)
    voltage, current, line_2 = lines
    assert (voltage["place"], line_2["place"]) == ("supply", "L2")
    assert not np.isnan(line_2["low"]).any()
    assert len(line_2["high"]) == 400  # drawn small, so of fewer columns
    fast_at, slow_at = (np.arange(600) + 0.5) / 600, (np.arange(400) + 0.5) / 400
    truth = np.interp(slow_at, fast_at, (current["low"] + current["high"]) / 2)
    np.testing.assert_allclose((line_2["low"] + line_2["high"]) / 2, truth, atol=0.04)  # 20 samples a cycle, straight


def slow_channel() -> Channel:
    return channel(5, Role.CURRENT, "L2", 5.0, rate_hz=1000.0, group=1)


def test_where_all_samples_are_missing_there_is_no_line_but_a_gap() -> None:
    missing = np.ones(4000, dtype=np.bool_)
    ring = Ring(block(np.zeros((2, 1))))
    ring.take(block(np.zeros((2, 4000)), missing=missing))
    trace = drawn_trace(Window(0.1, 0.06), drawn_lines([ring], None), 600)
    assert trace["lines"] == []
    assert trace["power"] is None
    assert trace["gaps"] == [pytest.approx([0.0, 0.06])]


@pytest.mark.parametrize("delay_s", [0.0, 10e-6])
def test_three_sines_of_which_two_are_measured_give_the_third_a_third_of_a_turn_on(delay_s: float) -> None:
    channels = (
        channel(0, Role.CURRENT, "U", 40.0),
        replace(channel(1, Role.CURRENT, "V", 40.0), delay_s=delay_s),
    )
    t = np.arange(4000) / RATE_HZ
    phases = [
        10 * np.sin(2 * np.pi * 50 * (t - late) - angle) for late, angle in ((0.0, 0.0), (delay_s, 2 * np.pi / 3))
    ]
    ring = Ring(block(np.stack(phases), channels=channels))
    ring.take(block(np.stack(phases), channels=channels))
    trace = drawn_trace(Window(0.04, 0.06, 3), drawn_lines([ring], motor_type("brushless")), 600)
    lines = trace["lines"]
    assert isinstance(lines, list)
    third = lines[-1]
    assert (third["place"], third["role"], third["range"], len(third["low"])) == ("W", "current", [-80.0, 80.0], 400)
    middle_s = (np.arange(400) + 0.5) * 0.06 / 400
    truth = 10 * np.sin(2 * np.pi * 50 * middle_s - 4 * np.pi / 3)
    np.testing.assert_allclose((third["low"] + third["high"]) / 2, truth, atol=0.25)  # half a sample of slope
    assert third["peak"] == pytest.approx([-10, 10], abs=0.02)


def test_power_that_flows_back_more_than_forth_has_no_share() -> None:
    values = sines(0.2, lag_deg=180.0)
    ring = Ring(block(values))
    ring.take(block(values))
    power = drawn_trace(Window(0.02, 0.06, 3), drawn_lines([ring], None), 600)["power"]
    assert isinstance(power, dict)
    assert power["mean"] == pytest.approx(-325 / 2, rel=1e-2)
    assert power["back_percent"] is None


@pytest.mark.parametrize(
    ("window", "phase_deg", "marks"),
    [
        (Window(0, 0.06, 3, "rising zero of the voltage"), 90.0, (0.02, 0.025)),
        (Window(0, 0.06, 3, "rising zero of the voltage"), -90.0, (0.02, 0.015)),
        (Window(0, 0.06, 3, "rising zero of the voltage"), None, (None, None)),
        (Window(0, 0.06, 3, "rising zero of the current"), 30.0, (None, None)),
        (Window(0, 0.06), 30.0, (None, None)),
    ],
)
def test_the_phase_is_drawn_where_it_means_something(
    window: Window, phase_deg: float | None, marks: tuple[float | None, float | None]
) -> None:
    found = phase_marks(window, phase_deg)
    assert (found["zero_voltage_s"], found["zero_current_s"]) == (
        marks if None in marks else (pytest.approx(marks[0]), pytest.approx(marks[1]))
    )


@pytest.mark.parametrize("amps", [0.0, 0.003])
def test_noise_at_rest_has_no_share_that_flows_back(amps: float) -> None:
    draw = np.random.default_rng(2)
    values = np.stack([draw.normal(0.1, 0.02, 4000), draw.normal(amps, 0.001, 4000)])
    channels = (
        replace(channel(0, Role.VOLTAGE, "supply", 400.0), noise_rms=0.02, offset_limit=0.1),
        replace(channel(1, Role.CURRENT, "line", 5.0), noise_rms=0.001, offset_limit=0.003),
    )
    ring = Ring(block(values, channels=channels))
    ring.take(block(values, channels=channels))
    power = drawn_trace(Window(0.02, 0.06, 3), drawn_lines([ring], None), 600)["power"]
    assert isinstance(power, dict)
    assert power["back_percent"] is None


def test_a_line_says_below_what_its_peaks_are_noise() -> None:
    draw = np.random.default_rng(3)
    values = np.stack([draw.normal(0.1, 0.02, 4000), draw.normal(0.003, 0.001, 4000)])
    channels = (
        replace(channel(0, Role.VOLTAGE, "supply", 400.0), noise_rms=0.02, offset_limit=0.1),
        replace(channel(1, Role.CURRENT, "line", 5.0), noise_rms=0.001, offset_limit=0.003),
    )
    ring = Ring(block(values, channels=channels))
    ring.take(block(values, channels=channels))
    lines = drawn_trace(Window(0.02, 0.06, 3), drawn_lines([ring], None), 600)["lines"]
    assert isinstance(lines, list)
    assert [line["least"] for line in lines] == [pytest.approx(1.5 * 0.16), pytest.approx(1.5 * 0.006)]
    assert all(max(map(abs, line["peak"])) < line["least"] for line in lines)
