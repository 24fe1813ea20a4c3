"""Plates that are not those of the motor that is there: from the wire bytes to the words of the run state."""

import numpy as np
import pytest

from server.pipeline import Output
from server.readings import Confidence, Reading
from tests.server.bad_supply import Floats, Wave, channel, level, played, readings, sine
from tests.server.pipelines import instants, run
from tests.server.tiny_board import PLATE, TinyBoard

MAGNET = "permanent_magnet_dc"
FAN = "permanent_split_capacitor"
TWELVE = "voltage_v = 12.0\ncurrent_a = 3.0\nspeed_rpm = 3000.0\n"
MAINS = "voltage_v = 230.0\nfrequency_hz = 50.0\ncurrent_a = 2.0\n"


def fed(motor: str, volts: Wave, amps: Wave, plate: str, place: str = "motor") -> Output:
    return played(motor, channel(place, volts, 400.0, 1), channel(place, amps, 10.0, 2), plate=plate)


def state(output: Output) -> Reading:
    return readings(output)["run_state"]


@pytest.mark.parametrize(
    ("motor", "label"),
    [
        (MAGNET, "permanent magnet DC"),
        ("shunt_dc", "shunt DC"),
        ("series_dc", "series DC"),
        ("compound_dc", "compound DC"),
    ],
)
def test_mains_on_a_motor_for_direct_current_makes_its_state_doubtful(motor: str, label: str) -> None:
    found = state(fed(motor, sine(230.0), sine(2.0), TWELVE.replace("12.0", "230.0")))
    assert found.confidence is Confidence.DOUBTFUL
    assert found.reason.startswith(
        f"the plate's type, {label}, is for direct current, but the voltage alternates at 50 Hz"
    )


@pytest.mark.parametrize("form", [lambda wave: np.maximum(wave, 0.0), np.abs])
def test_a_rectified_supply_is_direct_current(form: Wave) -> None:
    def rectified(t: Floats) -> Floats:
        return form(17.0 * np.sin(100 * np.pi * t))

    found = state(fed(MAGNET, rectified, lambda t: rectified(t) / 10, TWELVE))
    assert "alternates" not in found.reason


def test_direct_current_on_a_motor_for_mains_makes_its_state_doubtful() -> None:
    found = state(fed(FAN, level(230.0), level(1.0), MAINS))
    assert found.confidence is Confidence.DOUBTFUL
    expected = "the plate's type, permanent split capacitor, is for alternating current, but the voltage is direct"
    assert found.reason.startswith(f"{expected}: a brake, or another motor")


@pytest.mark.parametrize(("volts", "amps"), [(level(230.0), level(1.0)), (sine(230.0), sine(1.0))])
def test_a_universal_motor_runs_on_both(volts: Wave, amps: Wave) -> None:
    assert "the plate's type" not in state(fed("universal", volts, amps, MAINS)).reason


WRONG = "a current flows, but less than 2 % of the plate's 1000 A: is that right?"


@pytest.mark.parametrize("volts", [230.0, 150.0])
def test_a_plate_that_makes_a_current_too_small_to_be_one_is_named(volts: float) -> None:
    found = state(fed(FAN, sine(volts), sine(4.0, behind_rad=0.5), MAINS.replace("2.0", "1000.0")))
    assert (found.value, found.confidence) == ("unknown", Confidence.DOUBTFUL)
    assert found.reason.startswith(WRONG)


def test_what_turns_with_a_current_does_not_coast_whatever_the_plate_says() -> None:
    plate = PLATE.replace("current_a = 0.5", "current_a = 1000.0").replace("locked_rotor_current_a = 1.5\n", "")
    story = (0.4, 230.0, 1.5, 1400.0), (2.0, 230.0, 0.5, 1400.0)
    outputs = run(TinyBoard(plate=plate).wire(story))
    told = [each.value for instant in instants(outputs) for each in instant.readings if each.id == "run_state"]
    assert set(told) == {"unknown"}


def test_a_current_that_a_switch_leaks_is_none() -> None:
    found = state(fed(FAN, sine(230.0), sine(0.03), MAINS))
    assert "is that right" not in found.reason
