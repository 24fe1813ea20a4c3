"""Power goes off: the sample at which the voltage ended, whatever held it up for a while."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from server.events.block import Block
from server.events.power_off import POWER_OFF
from server.motors import motor_type
from tests.server.bench_stories import told, when
from tests.server.events.told import PLATE, block, events, stepped

RATE = 1000


def blocks(volts: NDArray[np.float64], direct: bool = False) -> list[Block]:
    """Windows of 200 ms of these samples, with their rows."""
    made = []
    for k, values in enumerate(volts.reshape(-1, 200)):
        table = values.reshape(20, 10)
        level = np.abs(table).mean(axis=1) if direct else np.sqrt(np.square(table).mean(axis=1))
        one = block(k, volts=level.tolist(), values=np.vstack((values, values)))
        made.append(replace(one, motor=motor_type("brushless")) if direct else one)
    return made


def sine(seconds: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    t = np.arange(round(seconds * RATE)) / RATE
    return t, 325.0 * np.sin(2 * np.pi * 50.0 * t)


@pytest.mark.parametrize("off_s", [0.803, 0.9, 0.997, 1.0, 1.004])
def test_the_moment_is_that_of_the_sample_where_a_mains_voltage_ended(off_s: float) -> None:
    t, volts = sine(2.0)
    (found,) = stepped(POWER_OFF, blocks(volts * (t < off_s)))
    assert found.text == "Power went off"
    assert found.board_s == pytest.approx(off_s, abs=0.0025)  # a zero of the wave hides it for so long


@pytest.mark.parametrize("tau_s", [0.0, 0.02, 0.5, 1.0])
def test_a_capacitor_that_is_emptied_slowly_does_not_hide_when_a_direct_voltage_was_taken_away(tau_s: float) -> None:
    t = np.arange(12 * RATE) / RATE
    left = np.exp(-np.maximum(t - 1.23, 0.0) / tau_s) if tau_s else t < 1.23
    volts = 230.0 * left + np.random.default_rng(1).normal(0.0, 0.001, t.size)
    (found,) = stepped(POWER_OFF, blocks(volts, direct=True))
    assert found.board_s == pytest.approx(1.23, abs=0.002 + 0.012 * tau_s)  # 1 % of it must be gone


def test_dips_a_lower_voltage_and_a_flicker_are_no_end() -> None:
    t, volts = sine(16.0)
    for low, since_s, to_s in ((0.4, 1.0, 1.5), (0.0, 1.0, 1.15), (0.7, 1.0, 16.0)):
        assert stepped(POWER_OFF, blocks(volts * np.where((t >= since_s) & (t < to_s), low, 1.0))) == []
    turned_down = np.where(t < 1.0, 1.0, np.where(t < 14.0, 0.7, 0.0))
    (found,) = stepped(POWER_OFF, blocks(volts * turned_down))
    assert found.board_s == pytest.approx(14.0, abs=0.0025)


def test_a_supply_that_was_turned_down_shortly_before_does_not_date_its_end() -> None:
    t, volts = sine(8.0)
    (found,) = stepped(POWER_OFF, blocks(volts * np.where(t < 2.0, 1.0, np.where(t < 6.0, 0.8, 0.0))))
    assert found.board_s == pytest.approx(6.0, abs=0.0025)


def test_each_end_is_told_once_and_none_where_there_was_no_power() -> None:
    pause = ((0.5, 0.0, 0.0, 0.0), *((1.0, 230.0, 0.5, 1400.0), (0.5, 0.0, 0.0, 1400.0)) * 2)
    assert [each.board_s for each in events(pause, "power_off")] == pytest.approx([1.5, 3.0], abs=0.003)
    assert events(((2.0, 0.0, 0.0, 0.0),), "power_off") == []


def test_without_a_plate_voltage_or_a_channel_there_is_no_telling() -> None:
    t, volts = sine(2.0)
    ends = blocks(volts * (t < 1.0))
    assert stepped(POWER_OFF, [replace(each, plate=replace(PLATE, voltage_v=None)) for each in ends]) == []
    assert stepped(POWER_OFF, [replace(each, voltage=None) for each in ends]) == []


def test_samples_that_are_missing_are_no_end() -> None:
    t, volts = sine(2.0)
    volts[(t > 1.03) & (t < 1.3)] = np.nan
    assert stepped(POWER_OFF, blocks(volts)) == []


@pytest.mark.parametrize(
    ("motor", "story", "within_s"),
    [
        ("cabin_ventilator", "start and load", 0.010),  # the contact's arc ends at a zero of the current
        pytest.param("cabin_ventilator", "stall and release", 0.010, marks=pytest.mark.long),
        pytest.param("tender_thruster", "load and stall", 0.007, marks=pytest.mark.long),
        ("tender_thruster", "start and speed steps", 0.007),
        ("bilge_pump", "start and load", 0.007),
    ],
)
def test_it_is_told_when_the_story_switched_the_supply_off(motor: str, story: str, within_s: float) -> None:
    off_s = when(motor, story, "supply_on", 0, 1)
    said = [each for each in told(motor, story).events if each.kind == "power_off"]
    (late_s,) = [each.board_s - off_s for each in said]
    assert -1.001 / 20_000 <= late_s <= within_s  # at most one sample early: what was sampled last had ended
