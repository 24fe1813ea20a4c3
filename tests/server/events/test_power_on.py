"""Power comes on: when, the first peak, and where the voltage stood."""

import numpy as np
import pytest

from server.events.power_on import POWER_ON
from tests.server.bench_stories import told
from tests.server.events.told import block, events, stepped


@pytest.mark.parametrize("angle_deg", [0, 90, 225])
def test_moment_peak_and_angle_are_those_of_the_waveform(angle_deg: int) -> None:
    seconds = np.arange(200) / 1000.0
    wave = np.sin(2 * np.pi * 50.0 * (seconds - 0.063) + np.radians(angle_deg)) * (seconds >= 0.063)
    values = np.vstack((325.0 * wave, 2.0 * wave))
    values[1, 70] = -3.5
    level = np.abs(wave).reshape(20, 10).max(axis=1)
    (found,) = stepped(POWER_ON, [block(0, 0.0, 0.0), block(1, 230.0 * level, 1.4 * level, values=values)])
    assert found.board_s == pytest.approx(0.263, abs=0.0011)
    peak, angle = found.detail.split(", ")
    assert peak == "first peak 3.5 A"
    told_deg = float(angle.removeprefix("voltage at ").split("°")[0])
    assert (told_deg - angle_deg + 180) % 360 - 180 == pytest.approx(0.0, abs=20.0)  # a sample is 18 degrees here


def test_a_first_peak_that_was_clipped_is_told_as_at_least_that() -> None:
    wave = np.sin(2 * np.pi * 50.0 * np.arange(200) / 1000.0)
    values = np.vstack((325.0 * wave, np.clip(900.0 * wave, -400.0, 400.0)))  # the range of the channel
    level = np.sqrt(np.square(wave).reshape(20, 10).mean(axis=1))
    (found,) = stepped(POWER_ON, [block(0, 0.0, 0.0), block(1, 325.0 * level, 400.0 * level, values=values)])
    assert found.detail.startswith("first peak at least 400 A")


def test_a_drive_that_waits_has_no_first_peak_and_360_degrees_are_0() -> None:
    draw = np.random.default_rng(4)
    wave = 325.0 * np.sin(2 * np.pi * 50.0 * (np.arange(200) / 1000.0 - 0.06) - np.radians(0.45))
    wave *= np.arange(200) >= 60
    noise = draw.normal(0.001, 0.001, 200)  # as its channel states it
    level = np.sqrt(np.square(wave).reshape(20, 10).mean(axis=1))
    blocks = [block(0, 0.0, 0.0), block(1, level.tolist(), 0.001, values=np.vstack((wave, noise)))]
    assert [each.detail for each in stepped(POWER_ON, blocks)] == ["voltage at 0° after its rising zero"]
    for story in ("reversal", "load and stall"):
        assert told("tender_thruster", story).event("power_on").detail == ""


def test_power_that_comes_on_at_the_end_of_a_window_is_told_with_the_next_one() -> None:
    assert [each.board_s for each in events(((0.99, 0.0, 0.0, 0.0), (0.41, 230.0, 1.5, 1400.0)), "power_on")] == [
        pytest.approx(0.991, abs=0.002)
    ]


def test_it_takes_a_fifth_of_a_second_without_power_before() -> None:
    flicker = ((1.0, 0.0, 0.0, 0.0), (0.5, 230.0, 1.5, 1400.0), (0.1, 0.0, 0.0, 1400.0), (0.5, 230.0, 1.5, 1400.0))
    assert len(events(flicker, "power_on")) == 1
    pause = ((1.0, 0.0, 0.0, 0.0), (0.5, 230.0, 1.5, 1400.0), (0.4, 0.0, 0.0, 1400.0), (0.6, 230.0, 1.5, 1400.0))
    assert len(events(pause, "power_on")) == 2


def test_a_running_motor_at_the_start_of_the_stream_is_no_power_on() -> None:
    assert events(((1.0, 230.0, 0.5, 1400.0),), "power_on") == []
