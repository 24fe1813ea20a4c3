"""Predicted lines against worked examples; sources beside them."""

import pytest

from server.config import Plate
from server.motors import MOTOR_TYPES, MotorType, motor_type, predicted_lines


def lines(key: str, plate: Plate, hertz: float | None, rpm: float | None, to_hz: float = 10_000.0) -> dict[str, float]:
    return {each.sign: each.hz for each in predicted_lines(motor_type(key), plate, hertz, rpm, to_hz)}


# A four-pole motor at 50 Hz with 28 bars and 3 % slip: formulas of Nandi, Toliyat and Li 2005, from memory; the
# numbers are ours.
def test_slots_eccentricity_and_slip_of_a_four_pole_motor() -> None:
    found = lines("three_phase_induction", Plate(pole_pairs=2, rotor_slots=28), 50.0, 60 * 24.25)
    assert found["f − n"] == pytest.approx(25.75)
    assert found["f + n"] == pytest.approx(74.25)
    assert found["R n − f"] == pytest.approx(629.0)
    assert found["R n + f"] == pytest.approx(729.0)
    assert found["(1 − 2s) f"] == pytest.approx(47.0)


# Two public notes on current spectra (the second: maintenance.org, topic rotor-broken-bars): 3570 r/min of two poles at
# 60 Hz, sidebands at 59 and 61 Hz (printed); 1775 r/min of four poles, 100 pole passes a minute (printed), 1.667 Hz.
def test_slip_sidebands_of_two_printed_examples() -> None:
    found = lines("three_phase_induction", Plate(pole_pairs=1), 60.0, 3570.0)
    assert [found["(1 − 2s) f"], found["(1 + 2s) f"]] == pytest.approx([59.0, 61.0])
    found = lines("three_phase_induction", Plate(pole_pairs=2), 60.0, 1775.0)
    assert (found["(1 + 2s) f"] - 60.0) * 60 == pytest.approx(100.0)


# 34 bars and two pole pairs: ranks -16 and 18 of the first slot lines (Power Electronics and Motor Drives, CRC Press,
# section 9.5.3, p. 9-21): at no slip they stand at 16 and 18 times the supply.
def test_slot_lines_without_slip_have_the_printed_ranks() -> None:
    found = lines("three_phase_induction", Plate(pole_pairs=2, rotor_slots=34), 50.0, 1500.0)
    assert found["R n − f"] / 50.0 == pytest.approx(16.0)
    assert found["R n + f"] / 50.0 == pytest.approx(18.0)


# Three segments, two poles: six ripples to a turn (read on a public page of a motor maker; lcm rule from memory).
def test_ripple_of_odd_and_even_bars() -> None:
    found = lines("permanent_magnet_dc", Plate(pole_pairs=1, commutator_bars=3), None, 6000.0)
    assert found["c n"] == pytest.approx(600.0)
    assert found["bars n"] == pytest.approx(300.0)
    found = lines("permanent_magnet_dc", Plate(pole_pairs=1, commutator_bars=12), None, 3600.0)
    assert found["c n"] == pytest.approx(720.0)
    assert "bars n" not in found


def test_a_commutator_on_mains_ripples_on_both_sides() -> None:
    found = lines("universal", Plate(pole_pairs=1, commutator_bars=24), 50.0, 12_000.0)
    assert [found["c n − f"], found["c n + f"]] == pytest.approx([4750.0, 4850.0])
    assert found["2 f"] == 100.0


def test_six_steps_of_a_brushless_motor() -> None:
    assert lines("brushless", Plate(pole_pairs=7), None, 1200.0)["6 f_e"] == pytest.approx(840.0)


@pytest.mark.parametrize("motor", MOTOR_TYPES, ids=lambda each: each.key)
def test_what_is_not_known_predicts_nothing_and_all_lines_are_in_order_and_range(motor: MotorType) -> None:
    key = motor.key
    assert lines(key, Plate(), None, None) == {}
    if motor.has_slip:
        assert lines(key, Plate(pole_pairs=2), None, 1400.0) == {}
    plate = Plate(pole_pairs=2, rotor_slots=28, commutator_bars=23)
    found = list(lines(key, plate, 50.0, -1400.0, 700.0).values())
    assert found == sorted(found)
    assert all(0 < each <= 700.0 for each in found)
