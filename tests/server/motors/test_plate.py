"""What a plate may say, and what follows from it."""

import pytest

from server.config import Plate
from server.motors import check_plate, pole_pairs_of


@pytest.mark.parametrize(
    ("rpm", "hertz", "pairs"),
    [(1420.0, 50.0, 2), (2900.0, 50.0, 1), (1500.0, 50.0, 2), (1770.0, 60.0, 2), (3500.0, 60.0, 1), (690.0, 60.0, 5)],
)
def test_pole_pairs_follow_from_plate_speed_and_frequency(rpm: float, hertz: float, pairs: int) -> None:
    # 120 f / n, next even number below; full-load speeds of a public table of synchronous speeds (2 to 16 poles).
    assert pole_pairs_of(Plate(speed_rpm=rpm, frequency_hz=hertz)) == pairs


def test_written_pole_pairs_come_first_and_nothing_is_guessed() -> None:
    assert pole_pairs_of(Plate(speed_rpm=1420.0, frequency_hz=50.0, pole_pairs=3)) == 3
    assert pole_pairs_of(Plate(speed_rpm=1420.0)) is None
    assert pole_pairs_of(Plate()) is None


def test_a_plate_that_says_nothing_or_what_can_be_has_no_complaint() -> None:
    assert check_plate(Plate()) == []
    ok = Plate(voltage_v=230, frequency_hz=50, current_a=2.0, speed_rpm=1400, pole_pairs=2, locked_rotor_current_a=9.0)
    assert check_plate(ok) == []


@pytest.mark.parametrize(
    ("plate", "key", "words"),
    [
        (Plate(voltage_v=0.0), "voltage_v", "above 0"),
        (Plate(current_a=-1.0), "current_a", "-1"),
        (Plate(power_w=float("nan")), "power_w", "above 0"),
        (Plate(pole_pairs=0), "pole_pairs", "1 or more"),
        (Plate(rotor_slots=0), "rotor_slots", "1 or more"),
        (Plate(commutator_bars=1), "commutator_bars", "2 or more"),
        (Plate(hall_spacing_deg=90), "hall_spacing_deg", "60 or 120"),
        (Plate(current_a=2.0, locked_rotor_current_a=1.0), "locked_rotor_current_a", "below the plate current, 2 A"),
        (Plate(frequency_hz=50, speed_rpm=1550, pole_pairs=2), "speed_rpm", "1500 r/min"),
    ],
)
def test_what_cannot_be_is_named(plate: Plate, key: str, words: str) -> None:
    ((found, complaint),) = check_plate(plate)
    assert found == key
    assert words in complaint
