"""Where sensors go, for each type: complete, with what layout and bench use, and the same as the page draws."""

import json
from pathlib import Path

import pytest

from server.motors import MOTOR_TYPES, MotorType
from server.motors.connections import CONNECTIONS, Point, Sensor
from simulator.bench import bench

DRAWN = Path(__file__).parents[3] / "dashboard" / "src" / "core" / "schematics" / "points.json"


def points(motor: MotorType) -> tuple[Point, ...]:
    return CONNECTIONS[motor.key].points


def test_every_type_has_its_points_and_no_other() -> None:
    assert list(CONNECTIONS) == [motor.key for motor in MOTOR_TYPES]


@pytest.mark.parametrize("motor", MOTOR_TYPES, ids=lambda motor: motor.key)
def test_the_main_channels_of_a_type_are_needed(motor: MotorType) -> None:
    needed = {(point.sensor, point.place) for point in points(motor) if point.needed}
    assert {(Sensor.VOLTAGE, motor.voltage_place), (Sensor.CURRENT, motor.current_place)} <= needed


@pytest.mark.parametrize("motor", MOTOR_TYPES, ids=lambda motor: motor.key)
def test_each_point_is_named_once_and_says_where_which_way_and_what_for(motor: MotorType) -> None:
    named = [(point.sensor, point.place) for point in points(motor)]
    assert len(set(named)) == len(named)
    assert all(point.where and point.arrow and point.makes for point in points(motor))


@pytest.mark.parametrize("motor", MOTOR_TYPES, ids=lambda motor: motor.key)
def test_cautions_come_with_every_type_and_end_with_what_slipring_is_not(motor: MotorType) -> None:
    cautions = CONNECTIONS[motor.key].cautions
    assert cautions[-1].startswith("Slipring only watches.")
    assert any("local codes" in caution.casefold() for caution in cautions)
    assert any("test for voltage" in caution for caution in cautions)
    with_capacitor = any(point.place == "capacitor" for point in points(motor))
    assert any("discharge it" in caution for caution in cautions) == with_capacitor


def test_every_channel_of_the_bench_sits_at_a_point_of_its_type() -> None:
    for motor in bench():
        known = {(point.sensor.value, point.place) for point in CONNECTIONS[motor.type].points}
        seen = {(channel.role.name.lower(), channel.place) for channel in motor.channels}
        assert seen <= known, motor.key


def test_the_page_draws_these_points() -> None:
    listed = {key: [f"{each.sensor} {each.place}" for each in known.points] for key, known in CONNECTIONS.items()}
    assert json.loads(DRAWN.read_text(encoding="utf-8")) == listed
