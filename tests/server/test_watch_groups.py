"""A board with two groups: the motor's main voltage and current are in one place each, whatever the groups' numbers."""

from dataclasses import replace

import numpy as np
import pytest

from firmware_protocol import ChannelDescription
from server.config import MotorSettings, Plate, RigSettings
from server.readings import Reading
from server.samples import Samples
from server.stream.assembly import Window
from server.stream.scaling import Group, groups_of
from server.watch import Watch
from tests.server.tiny_board import CURRENT, TICK_HZ, VOLTAGE

AUXILIARY = replace(CURRENT, index=2, name="auxiliary", place="auxiliary")
TYPE = "permanent_split_capacitor"


def read(channels: dict[ChannelDescription, tuple[int, float]], motor: str = TYPE) -> dict[int, dict[str, Reading]]:
    """By group and id what a window of each group tells; `channels`: each one's group and RMS at 50 Hz."""
    described = [replace(each, group=group) for each, (group, _) in channels.items()]
    sizes = {each.index: rms for each, (_, rms) in channels.items()}
    groups = tuple(groups_of(described, TICK_HZ).values())
    watch = Watch(RigSettings("r"), MotorSettings("fan", motor, Plate(pole_pairs=2)), groups, None)
    return {each.index: _window(watch, each, sizes) for each in groups}


def _window(watch: Watch, group: Group, sizes: dict[int, float]) -> dict[str, Reading]:
    wave = np.sqrt(2.0) * np.cos(2.0 * np.pi * 50.0 * np.arange(group.window) / 1000.0)
    values = np.array([sizes[each.index] * wave for each in group.channels])
    none = np.zeros(values.shape, np.bool_)
    samples = Samples(group.channels, 0, 0, 1000.0, TICK_HZ, values, none[0], none)
    said = watch.window(Window(group, samples, samples.end_tick))
    return {each.id: each for each in said.instant.readings}


def value(readings: dict[str, Reading], key: str) -> float:
    found = readings[key].value
    assert isinstance(found, float)
    return found


def test_a_group_before_the_main_one_takes_nothing_from_it_and_its_current_keeps_its_place() -> None:
    found = read({AUXILIARY: (0, 0.3), VOLTAGE: (1, 230.0), CURRENT: (1, 0.7)})
    assert "current_rms_a" not in found[0]
    assert value(found[0], "current_rms_a.auxiliary") == pytest.approx(0.3, rel=1e-3)
    assert value(found[1], "current_rms_a") == pytest.approx(0.7, rel=1e-3)
    assert value(found[1], "active_power_w") == pytest.approx(230.0 * 0.7, rel=1e-3)


def test_what_two_groups_tell_is_the_main_one_s() -> None:
    found = read({AUXILIARY: (0, 0.3), VOLTAGE: (1, 230.0), CURRENT: (1, 0.7)})
    assert "frequency_hz" not in found[0]
    assert value(found[1], "frequency_hz") == pytest.approx(50.0, rel=1e-4)


def test_a_main_voltage_that_is_sampled_apart_from_the_main_current_stays_the_main_one() -> None:
    found = read({VOLTAGE: (0, 230.0), CURRENT: (1, 0.7), AUXILIARY: (1, 0.3)})
    assert value(found[0], "voltage_rms_v") == pytest.approx(230.0, rel=1e-3)
    assert value(found[1], "current_rms_a") == pytest.approx(0.7, rel=1e-3)
    assert value(found[1], "current_rms_a.auxiliary") == pytest.approx(0.3, rel=1e-3)


def test_without_a_motor_type_the_first_of_the_larger_group_is_main() -> None:
    found = read({AUXILIARY: (0, 0.3), VOLTAGE: (1, 230.0), CURRENT: (1, 0.7)}, "")
    assert "current_rms_a" not in found[0]
    assert value(found[1], "current_rms_a") == pytest.approx(0.7, rel=1e-3)
