"""Resistance, warmth and constants of a motor against printed figures; torque is never more than an estimate."""

from dataclasses import replace
from math import pi, sqrt

import numpy as np
import pytest
from numpy.typing import NDArray

from server.config import Plate
from server.motors import motor_type
from server.quantities.winding import temperature_c
from server.readings import Confidence, Reading, Uncertainty
from server.samples import Channel, Part
from tests.server.quantities.windows import current, number, read, voltage, window

MAGNET, INDUCTION, SHADED = (motor_type(key) for key in ("permanent_magnet_dc", "three_phase_induction", "shaded_pole"))
PUMP = Plate(voltage_v=12, current_a=4.2, speed_rpm=3570, pole_pairs=1)
STANDS = Reading("speed_rpm", 0.0)


def noise(size: float = 1e-3, seed: int = 1) -> NDArray[np.float64]:
    return np.random.default_rng(seed).normal(0, size, 4000)


def sure(channel: Channel, offset: float) -> Channel:
    """Gain within 0.5 %."""
    return replace(
        channel, gain=Part(0.005 / sqrt(3)), offset_error=Part(offset / sqrt(3)), delay_error=Part(1e-7), step=1e-3
    )


def direct(volts: float, amps: float, plate: Plate, speed: Reading | None) -> dict[str, Reading]:
    channels = (sure(voltage("motor", 200.0), 0.02), sure(current("motor", 50.0), 0.01))
    rows = [volts + noise(), amps + noise(seed=2)]
    return read(window(channels, rows), MAGNET, plate, speed)


def test_a_winding_of_80_ohm_at_20_degrees_and_then_100_is_at_84_degrees() -> None:
    # 80 ohm at 20 degrees, 100 ohm later: a worked thread of a physics forum (381286) gives 83.63 degrees with 234.5;
    # IEC 60034-1 has 235 for copper (from memory), with which it is 83.75.
    assert temperature_c(100.0, 80.0, 20.0, 234.5) == pytest.approx(83.63, abs=0.006)
    assert temperature_c(100.0, 80.0, 20.0) == pytest.approx(83.75, abs=1e-9)


def test_a_kelvin_of_copper_is_its_temperature_coefficient() -> None:
    # 0.00393 and 0.00403 a kelvin of copper and aluminium at 20 degrees with 234.5 and 228 (Electrical Engineering
    # Portal, temperature rise). A page that takes copper's 20 degree coefficient from 25 degrees on is not followed.
    assert temperature_c(1.00393, 1.0, 20.0, 234.5) == pytest.approx(21.0, abs=0.002)
    assert temperature_c(1.00403, 1.0, 20.0, 228.0) == pytest.approx(21.0, abs=0.002)
    assert temperature_c(1.8468208, 1.5, 25.0, 234.5) == pytest.approx(85.0, abs=1e-3)


def test_resistance_of_a_winding_on_direct_current_and_how_warm_it_is_by_that() -> None:
    plate = Plate(voltage_v=230, current_a=0.6, frequency_hz=50, winding_resistance_ohm=80.0)
    channels = (sure(voltage("supply", 200.0), 0.02), sure(current("line", 5.0), 0.001))
    found = read(window(channels, [50 + noise(), 0.5 + noise(1e-4, 2)]), SHADED, plate)
    assert number(found, "winding_resistance_ohm") == pytest.approx(100.0, rel=1e-4)
    assert number(found, "winding_temperature_c") == pytest.approx(83.75, abs=0.02)
    assert number(found, "winding_rise_k") == pytest.approx(63.75, abs=0.02)
    of_ohm, of_rise = (found[key].uncertainty for key in ("winding_resistance_ohm", "winding_rise_k"))
    assert of_ohm is not None
    assert of_rise is not None
    # 0.5 % twice, 0.04 % and 0.2 %, rectangular: root of the sum of squares over root of 3, times 1.96.
    assert of_ohm.half == pytest.approx(100 * 1.96 * sqrt(2 * 0.005**2 + 0.0004**2 + 0.002**2) / sqrt(3), rel=0.02)
    assert of_rise.half == pytest.approx(of_ohm.half * 255 / 80, rel=1e-6)


def test_a_motor_with_brushes_has_a_resistance_only_while_its_shaft_is_known_to_stand() -> None:
    plate = replace(PUMP, brush_drop_v=0.6)
    found = direct(0.6 + 0.42 * 20, 20.0, plate, STANDS)
    assert number(found, "winding_resistance_ohm") == pytest.approx(0.42, rel=1e-3)
    assert found["winding_resistance_ohm"].confidence is Confidence.GOOD
    for speed in (None, Reading("speed_rpm", 900.0)):
        assert "known to stand" in direct(9.0, 20.0, plate, speed)["winding_resistance_ohm"].reason
    unknown = direct(9.0, 20.0, PUMP, STANDS)["winding_resistance_ohm"]
    assert (unknown.confidence, unknown.reason) == (Confidence.DOUBTFUL, "the drop of the brushes is in it")
    assert direct(9.0, 0.0, plate, STANDS)["winding_resistance_ohm"].reason == "no current flows"


def test_constants_of_a_running_motor_are_those_of_its_no_load_speed() -> None:
    # 0.12 N m/A at 48 V: 3819.7 r/min without load (S. P. Burman, Special Electrical Machines, example 4.1, p. 216;
    # there the phase has 0.15 ohm and no current flows).
    plate = Plate(voltage_v=48, current_a=10, speed_rpm=3500, winding_resistance_ohm=0.15)
    rpm = Reading("speed_rpm", 3819.7, uncertainty=Uncertainty(3815, 3825, 1.96, ()))
    found = direct(48.0, 0.02, plate, rpm)
    assert number(found, "torque_constant") == pytest.approx(0.12, rel=2e-4)
    assert found["torque_constant"].value == found["back_emf_constant"].value
    interval = found["back_emf_constant"].uncertainty
    assert interval is not None
    assert {"winding warmer than on the plate", "drop of the brushes", "speed"} <= {word for word, _ in interval.parts}


def test_a_constant_in_turns_and_volts_is_the_same_in_si_units() -> None:
    # 5700 r/min a volt at 11.1 V: 63 270 r/min without load, 0.00167531519 V s/rad (a formula page, fxSolver).
    plate = Plate(voltage_v=11.1, current_a=10, speed_rpm=63_000, winding_resistance_ohm=1e-6)
    found = direct(11.1, 0.1, plate, Reading("speed_rpm", 63_270.0))
    assert number(found, "back_emf_constant") == pytest.approx(0.00167531519, rel=1e-4)


def test_a_torque_of_1_n_m_at_5_a_is_a_no_load_speed_of_1337_at_28_v() -> None:
    # S. P. Burman, Special Electrical Machines, example 4.2, p. 216 (read in a companion): 1336.9 r/min.
    plate = Plate(voltage_v=28, current_a=5, speed_rpm=1300, winding_resistance_ohm=1e-6)
    found = direct(28.0, 0.1, plate, Reading("speed_rpm", 1336.9))
    assert number(found, "torque_constant") * 5 == pytest.approx(1.0, rel=1e-4)


def test_the_back_emf_of_a_brushless_motor_that_coasts_tells_its_speed_in_every_convention() -> None:
    # 0.1 V s/rad a phase (peak), four pole pairs, 3000 r/min: 200 Hz, 22.2144 V RMS a phase, 54.41398 V peak and
    # 38.4765 V RMS between two (geometry of balanced voltages; numbers ours).
    t = np.arange(4000) / 20_000.0
    rows = [0.1 * 100 * pi * np.cos(400 * pi * t - 2 * pi * k / 3) for k in range(3)]
    between = rows[0] - rows[1]
    assert (np.abs(between).max(), between.std()) == pytest.approx((54.41398, 38.4764949), rel=1e-3)
    channels = [voltage("dc link", 100), *(voltage(place, 100) for place in "UVW"), current("dc link", 20)]
    plate = Plate(voltage_v=48, current_a=10, pole_pairs=4)
    found = read(window(channels, [0 * t, *rows, 0 * t]), motor_type("brushless"), plate)
    for place in "UVW":
        assert number(found, f"voltage_rms_v.{place}") == pytest.approx(22.21441469, rel=1e-6)
    assert number(found, "emf_speed_rpm") == pytest.approx(3000.0, abs=1e-3)


def test_torque_of_a_shaft_is_an_estimate_and_says_so() -> None:
    plate = Plate(voltage_v=12, current_a=4.2, speed_rpm=3570, winding_resistance_ohm=0.42, brush_drop_v=0.6)
    found = direct(12.0, 4.085, plate, Reading("speed_rpm", 3571.0))
    for key in ("shaft_torque_estimate_n_m", "shaft_power_estimate_w"):
        assert found[key].confidence is Confidence.DOUBTFUL
        assert found[key].reason.startswith("an estimate: friction and iron losses are not taken off")
    torque, power = number(found, "shaft_torque_estimate_n_m"), number(found, "shaft_power_estimate_w")
    # What a winding and brushes leave of 12 V x 4.085 A: 39.6 W; torque is constant x current.
    assert power == pytest.approx(12 * 4.085 - 0.42 * 4.085**2 - 0.6 * 4.085, rel=1e-3)
    assert torque == pytest.approx(number(found, "torque_constant") * 4.085, rel=1e-3)


def test_an_estimate_of_an_induction_motor_takes_its_winding_off_and_divides_by_the_field() -> None:
    # 400 V, 3.4 A, phi 37 degrees, 6.3 ohm a phase (12.6 between terminals), 1420 r/min at 50 Hz with two pole pairs.
    t = np.arange(4000) / 20_000.0
    plate = Plate(
        voltage_v=400, frequency_hz=50, current_a=3.4, speed_rpm=1420, pole_pairs=2, winding_resistance_ohm=12.6
    )
    angles = [-2 * pi * k / 3 for k in range(3)]
    rows = [400 * sqrt(2 / 3) * np.cos(100 * pi * t + angle) for angle in angles]
    rows += [3.4 * sqrt(2) * np.cos(100 * pi * t + angle - 0.6458) for angle in angles]
    channels = [*(voltage(f"L{k + 1}", 600) for k in range(3)), *(current(f"L{k + 1}", 50) for k in range(3))]
    found = read(window(channels, rows), INDUCTION, plate, Reading("speed_rpm", 1420.0))
    gap_w = sqrt(3) * 400 * 3.4 * np.cos(0.6458) - 3 * 6.3 * 3.4**2
    assert number(found, "shaft_torque_estimate_n_m") == pytest.approx(gap_w / (50 * pi), rel=1e-3)
    assert number(found, "shaft_power_estimate_w") == pytest.approx(gap_w * 1420 / 1500, rel=1e-3)


def test_without_a_resistance_on_the_plate_there_are_no_constants() -> None:
    found = direct(12.0, 4.0, PUMP, Reading("speed_rpm", 3571.0))
    assert not {"back_emf_constant", "shaft_torque_estimate_n_m", "winding_rise_k"} & set(found)


@pytest.mark.parametrize(
    ("speed", "amps", "reason"),
    [
        (None, 4.0, "no input gives the speed"),
        (Reading("speed_rpm", 100.0), 4.0, "it turns too slowly"),
        (Reading("speed_rpm", 3571.0), 0.0, "no current flows"),
    ],
)
def test_constants_are_absent_with_the_reason(speed: Reading | None, amps: float, reason: str) -> None:
    found = direct(12.0, amps, replace(PUMP, winding_resistance_ohm=0.42, brush_drop_v=0.6), speed)
    for key in ("back_emf_constant", "torque_constant", "shaft_torque_estimate_n_m", "shaft_power_estimate_w"):
        assert found[key].confidence is Confidence.ABSENT
        assert reason in found[key].reason
