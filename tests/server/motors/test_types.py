"""The list of motor types."""

import pytest

from server.config import Plate
from server.motors import MOTOR_TYPES, Supply, check_plate, motor_type
from simulator.bench import bench
from simulator.motors import MOTORS


def test_each_type_is_found_by_its_key_and_no_other() -> None:
    assert [motor_type(each.key) for each in MOTOR_TYPES] == list(MOTOR_TYPES)
    assert len({each.key for each in MOTOR_TYPES}) == len(MOTOR_TYPES)
    assert motor_type("") is None


def test_every_type_has_its_twin_on_the_software_board() -> None:
    assert {each.key for each in MOTOR_TYPES} == set(MOTORS)


def test_every_band_runs_upward_and_says_where_it_comes_from() -> None:
    bands = [each.locked_current_ratio for each in MOTOR_TYPES if each.locked_current_ratio]
    assert bands
    for band in bands:
        assert 1.0 <= band.low < band.high
        assert band.source.startswith("typical band")


# Common practice, no published source: locked over rated current by type.
@pytest.mark.parametrize(
    ("key", "low", "high"),
    [
        ("three_phase_induction", 4, 7),
        ("split_phase", 6, 8),
        ("capacitor_start", 4, 6),
        ("permanent_split_capacitor", 2, 3.5),
        ("shaded_pole", 1.2, 1.8),
        ("synchronous", 1, 1.5),
        ("synchronous_reluctance", 2, 3),
        ("universal", 3, 8),
        ("series_dc", 6, 12),
        ("shunt_dc", 8, 15),
        ("permanent_magnet_dc", 5, 10),
    ],
)
def test_bands_of_the_locked_current_are_those_of_common_practice(key: str, low: float, high: float) -> None:
    motor = motor_type(key)
    assert motor is not None
    assert motor.locked_current_ratio is not None
    assert (motor.locked_current_ratio.low, motor.locked_current_ratio.high) == (low, high)


def test_only_what_turns_with_a_field_of_mains_has_slip() -> None:
    slips = {each.key for each in MOTOR_TYPES if each.has_slip}
    assert slips == {
        *("permanent_split_capacitor", "split_phase", "capacitor_start", "shaded_pole"),
        *("three_phase_induction", "synchronous", "synchronous_reluctance"),
    }
    assert all(each.supply is Supply.ALTERNATING for each in MOTOR_TYPES if each.has_slip)


def test_the_main_places_of_every_type_are_those_of_its_boards() -> None:
    for board in bench():
        motor = motor_type(board.type)
        assert motor is not None
        places = {(each.role.name, each.place) for each in board.channels}
        assert ("VOLTAGE", motor.voltage_place) in places
        assert ("CURRENT", motor.current_place) in places


def test_a_commutator_motor_may_turn_faster_than_the_field_of_its_supply() -> None:
    plate = Plate(voltage_v=230, frequency_hz=50, speed_rpm=12_000, pole_pairs=1)
    assert check_plate(plate, motor_type("universal")) == []
    assert [key for key, _ in check_plate(plate, motor_type("split_phase"))] == ["speed_rpm"]
    assert [key for key, _ in check_plate(plate)] == ["speed_rpm"]
