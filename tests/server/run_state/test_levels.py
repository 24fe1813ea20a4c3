"""From which figures on a motor is taken to rest, run or stall."""

from dataclasses import replace
from math import inf

import pytest

from firmware_protocol import Role
from server.config import Plate, RigSettings
from server.motors import motor_type
from server.run_state import Levels, levels_of
from server.samples import Channel

LINE = Channel(0, Role.CURRENT, "I", "line", "A", -10.0, 10.0, noise_rms=0.001)
PLATE = Plate(voltage_v=230.0, frequency_hz=50.0, current_a=0.5, speed_rpm=1400.0)


def levels(plate: Plate = PLATE, kind: str = "permanent_split_capacitor", phase: bool = False) -> Levels:
    motor = motor_type(kind)
    assert motor is not None
    found = levels_of(motor, plate, RigSettings("r"), LINE, phase)
    assert isinstance(found, Levels)
    return found


def test_a_current_below_the_plates_two_percent_stands_out_of_noise_offset_and_leaks_at_the_supplys_voltage() -> None:
    motor = motor_type("permanent_magnet_dc")
    assert motor is not None
    for channel, told_a in (
        (replace(LINE, offset_limit=0.1), 0.309),  # three times: three times the noise, and the offset
        (LINE, 0.2),  # nobody says what its offset may be: 2 % of its range
        (replace(LINE, ac_coupled=True), 0.009),
    ):
        found = levels_of(motor, PLATE, RigSettings("r"), channel, False)
        assert isinstance(found, Levels)
        assert found.told_a == pytest.approx(told_a)
        assert found.fed_v == pytest.approx(0.85 * 230.0)
    assert levels().fed_v == pytest.approx(0.5 * 230.0)
    assert levels(kind="brushless").fed_v == inf


def test_without_plate_current_or_channel_there_is_a_reason_instead() -> None:
    motor = motor_type("permanent_split_capacitor")
    assert motor is not None
    assert levels_of(motor, Plate(), RigSettings("r"), LINE, False) == "the plate current is not set"
    assert levels_of(motor, PLATE, RigSettings("r"), None, False) == "no channel measures the motor's current"


def test_quiet_is_2_percent_of_the_plate_current_and_loud_is_5() -> None:
    assert levels().quiet_a == pytest.approx(0.01)
    assert levels().loud_a == pytest.approx(0.025)


def test_noise_lifts_both_levels_where_it_is_larger() -> None:
    motor = motor_type("permanent_split_capacitor")
    assert motor is not None
    noisy = Channel(0, Role.CURRENT, "I", "line", "A", -10.0, 10.0, noise_rms=0.1)
    found = levels_of(motor, PLATE, RigSettings("r"), noisy, False)
    assert isinstance(found, Levels)
    assert found.quiet_a == pytest.approx(0.3)
    assert found.loud_a == pytest.approx(0.75)


def test_the_locked_current_of_the_plate_decides_a_stall_and_its_absence_makes_it_doubtful() -> None:
    known = levels(Plate(voltage_v=230.0, frequency_hz=50.0, current_a=0.5, locked_rotor_current_a=1.5))
    assert known.stall_a == pytest.approx(1.35)
    assert known.run_a == pytest.approx(1.0)
    assert known.stall_doubt == ""
    band = levels()  # the middle between the plate current and twice that, the low end of the type's band
    assert band.stall_a == band.run_a == pytest.approx(0.75)
    assert band.stall_doubt == (
        "the locked-rotor current is not on the plate: judged by the typical band (common practice)"
    )


def test_a_drive_stalls_a_motor_at_half_its_plate_current_seen_in_a_phase() -> None:
    assert levels(kind="brushless", phase=True).stall_a == pytest.approx(0.25)
    assert levels(kind="brushless", phase=True).stall_doubt == ""
    assert "chopping drive" in levels(kind="brushless").stall_doubt
    assert levels(kind="brushless").emf_loud_v is None


def test_no_speed_is_under_a_tenth_of_synchronous_speed_or_under_the_stopped_speed_for_a_drive() -> None:
    assert levels().stall_rpm == pytest.approx(150.0)
    assert levels(kind="brushless").stall_rpm == 5.0


def test_a_current_that_tells_nothing_claims_no_running_and_a_stall_by_the_shaft_alone() -> None:
    shaded = levels(kind="shaded_pole")
    assert shaded.run_a == 0.0
    assert "judged by the shaft alone" in shaded.stall_doubt
    known = replace(PLATE, locked_rotor_current_a=1.0)  # twice the plate current tells, whatever the type
    assert levels(known, "shaded_pole").stall_doubt == ""


def test_what_holds_on_purpose_has_no_current_of_a_stall() -> None:
    assert levels(kind="servo").stall_a == inf


def test_a_direct_current_motor_shows_its_own_emf_and_a_link_does_not() -> None:
    assert levels(kind="permanent_magnet_dc").emf_loud_v == pytest.approx(9.2)
    assert levels(kind="permanent_magnet_dc").stall_rpm == pytest.approx(150.0)
