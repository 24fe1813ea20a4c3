"""Constants of brushless motors from their EMF, against published relations between the conventions of the trade."""

from dataclasses import replace
from math import pi, sqrt

import numpy as np
import pytest
from numpy.typing import NDArray

from server.config import Plate
from server.motors import motor_type
from server.readings import Confidence, Reading, Uncertainty
from server.samples import Part
from tests.server.quantities.windows import current, number, read, voltage, window

BRUSHLESS = motor_type("brushless")
PLATE = Plate(voltage_v=48, current_a=10, pole_pairs=4)
T = np.arange(4000) / 20_000.0
Floats = NDArray[np.float64]
KEYS = ("back_emf_constant", "torque_constant", "back_emf_per_1000_rpm_v")


def turned(rpm: float, slope: float = 0.0) -> tuple[Floats, Floats]:
    """Electrical angle of a shaft of four pole pairs whose speed changes by `slope` r/min a second, and its rad/s."""
    return 4 * 2 * pi / 60 * (rpm * T + 0.5 * slope * T * T), pi / 30 * (rpm + slope * T)


def sines(rpm: float, slope: float = 0.0, k: float = 0.1) -> list[Floats]:
    """A phase has k V s/rad at its peak."""
    angle, omega = turned(rpm, slope)
    return [k * omega * np.cos(angle - 2 * pi * x / 3) for x in range(3)]


def trapezoids(rpm: float, k: float = 0.1) -> list[Floats]:
    """Flat over 120 degrees."""
    angle, omega = turned(rpm)
    off = [((angle / (2 * pi) - x / 3 + 0.5) % 1.0) - 0.5 for x in range(3)]
    return [k * omega * np.clip(12 * (0.25 - np.abs(each)), -1, 1) for each in off]


def coasting(
    phases: list[Floats], plate: Plate = PLATE, places: str = "UVW", speed: Reading | None = None
) -> dict[str, Reading]:
    """Phases against the link's minus, where all of them stand at half the link."""
    channels = [voltage("dc link", 100), *(voltage(place, 100) for place in places), current("dc link", 20)]
    sure = [
        replace(each, gain=Part(0.001), offset_error=Part(0.002), delay_error=Part(1e-7), clock=Part(3e-5))
        for each in channels
    ]
    rows = [24 + each for each in phases[: len(places)]]
    return read(window(sure, [0 * T + 48, *rows, 0 * T]), BRUSHLESS, plate, speed)


def test_of_a_sine_the_constant_is_root_three_of_a_phase_and_the_torque_three_over_pi_of_it() -> None:
    # 0.1 V s/rad a phase: 54.41398 V peak between lines at 3000 r/min (as in test_machine.py), 18.138 V at 1000. A
    # bridge of six diodes gives 1.3505 of the RMS between lines (3 root 2 / pi, any book on power electronics).
    found = coasting(sines(2990.0))  # no whole number of samples to a turn
    assert number(found, "back_emf_constant") == pytest.approx(54.41398 / (100 * pi), rel=1e-3)
    assert number(found, "back_emf_per_1000_rpm_v") == pytest.approx(54.41398 / 3, rel=1e-3)
    rms = 54.41398 / sqrt(2) / (100 * pi)
    assert number(found, "torque_constant") == pytest.approx(1.3505 * rms, rel=1e-3)


def test_of_a_trapezoid_both_are_twice_that_of_a_phase() -> None:
    found = coasting(trapezoids(2000.0))
    assert number(found, "back_emf_constant") == pytest.approx(0.2, rel=1e-3)
    assert number(found, "torque_constant") == pytest.approx(0.2, rel=5e-3)


@pytest.mark.parametrize(("rpm", "slope"), [(3000.0, -7500.0), (150.0, 0.0), (200.0, 400.0)])
def test_a_shaft_that_coasts_to_rest_and_one_turned_by_hand_give_the_same(rpm: float, slope: float) -> None:
    found = coasting(sines(rpm, slope))
    constant = found["back_emf_constant"]
    assert number(found, "back_emf_constant") == pytest.approx(0.1 * sqrt(3), rel=4e-3)
    assert constant.confidence is Confidence.GOOD
    assert constant.uncertainty is not None
    assert {"gains of the channels", "half turns that differ", "board's clock"} <= {
        word for word, _ in constant.uncertainty.parts
    }


def test_two_phases_and_voltages_between_lines_do_as_well() -> None:
    u, v, w = sines(1000.0)
    assert number(coasting([u, v], places="UV"), "back_emf_constant") == pytest.approx(0.1 * sqrt(3), rel=1e-3)
    for places, rows in ((("U-V", "V-W", "W-U"), (u - v, v - w, w - u)), (("V-U", "V-W"), (v - u, v - w))):
        channels = [voltage("dc link", 100), *(voltage(place, 100) for place in places), current("dc link", 20)]
        found = read(window(channels, [0 * T + 48, *rows, 0 * T]), BRUSHLESS, PLATE)
        assert number(found, "back_emf_constant") == pytest.approx(0.1 * sqrt(3), rel=1e-3)
        assert number(found, "emf_speed_rpm") == pytest.approx(1000.0, rel=1e-3)


def test_without_pole_pairs_a_speed_tells_how_many_there_are() -> None:
    plate, speed = (
        Plate(voltage_v=48, current_a=10),
        Reading("speed_rpm", 1000.0, uncertainty=Uncertainty(995, 1005, 2.0, ())),
    )
    found = coasting(sines(1000.0), plate, speed=speed)
    assert number(found, "back_emf_constant") == pytest.approx(0.1 * sqrt(3), rel=1e-3)
    sure = found["back_emf_constant"].uncertainty
    assert sure is not None
    assert dict(sure.parts)["speed"] == pytest.approx(0.0025 * 0.1 * sqrt(3), rel=1e-3)
    assert coasting(sines(1000.0), plate)["back_emf_constant"].reason == "needs pole pairs or a speed"


@pytest.mark.parametrize(
    ("phases", "reason"),
    [
        ([0 * T] * 3, "no voltage at the terminals that could be an EMF"),
        (sines(40.0, k=1.0), "less than a cycle of the EMF in the window"),
    ],
)
def test_where_there_is_no_emf_the_constants_are_absent(phases: list[Floats], reason: str) -> None:
    found = coasting(phases)
    assert [(found[key].value, found[key].reason) for key in KEYS] == [(None, reason)] * 3


def test_an_emf_that_no_steady_turn_explains_is_doubtful() -> None:
    noise = np.random.default_rng(1).normal(0.0, 3.0, (3, 4000))
    found = coasting([each + more for each, more in zip(sines(1000.0), noise, strict=True)])
    assert found["back_emf_constant"].reason == "the EMF was not steady in this window"
    assert found["back_emf_constant"].uncertainty is None


def test_without_a_voltage_between_lines_or_of_another_motor_there_are_none() -> None:
    channels = (voltage("dc link", 100), voltage("U", 100), current("dc link", 20))
    found = read(window(channels, [0 * T + 48, sines(1000.0)[0], 0 * T]), BRUSHLESS, PLATE)
    assert not set(KEYS) & set(found)
