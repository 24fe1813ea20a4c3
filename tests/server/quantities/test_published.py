"""Readings of waves whose figures are printed somewhere. Each source is named beside its figures."""

from cmath import exp
from math import pi, radians, sqrt

import numpy as np
import pytest
from numpy.typing import NDArray

from server.config import Plate
from server.motors import PERMANENT_SPLIT_CAPACITOR
from server.readings import Confidence, Reading
from tests.server.quantities.windows import current, number, read, voltage, waves, window
from tests.server.signals.slow import Wave, series, square, triangle

ORDERS = (1, 3, 5, 7)
VOLTS, AMPS = (100, 8, 15, 5), (100, 20, 15, 10)
V_ANGLES = (0, -70, 140, 20)


def sine_series(sizes: tuple[float, ...], degrees: tuple[float, ...]) -> Wave:
    """Angles of sines, as the standard gives them."""
    parts = zip(ORDERS, sizes, degrees, strict=True)
    return series({h: size * exp(1j * (radians(angle) - pi / 2)) for h, size, angle in parts})


# IEEE 1459 annex B. Amplitudes and voltage angles as a public transcription of the annex gives them; V, I and S from
# memory of its table of results, which these amplitudes give to the printed digits. The standard itself was not read.
@pytest.mark.parametrize("hertz", [50.0, 60.0, 49.87])
def test_ieee_1459_annex_b_amplitudes(hertz: float) -> None:
    rows = waves(hertz, sine_series(VOLTS, V_ANGLES), sine_series(AMPS, (-30, -165, 233, 288)), start_turns=0.31)
    found = read(window([voltage(), current(limit_a=400)], rows))
    assert number(found, "voltage_rms_v") == pytest.approx(101.56, abs=0.005)
    assert number(found, "current_rms_a") == pytest.approx(103.56, abs=0.005)
    assert number(found, "apparent_power_va") == pytest.approx(10517.5, abs=0.1)
    assert number(found, "voltage_thd_percent") == pytest.approx(17.72, abs=0.005)
    assert number(found, "current_thd_percent") == pytest.approx(26.926, abs=0.0005)
    assert number(found, "frequency_hz") == pytest.approx(hertz, abs=1e-4)


# The same annex's active and reactive parts, table from memory. Current angles of orders 5 and 7 are solved back from
# the remembered results; P_1 is printed there from cos 30 = 0.86600, so 8632.54 carries 0.3 W of its rounding.
def test_ieee_1459_annex_b_powers() -> None:
    rows = waves(50.0, sine_series(VOLTS, V_ANGLES), sine_series(AMPS, (-30, -165, 233, 288)))
    found = read(window([voltage(), current(limit_a=400)], rows))
    assert number(found, "active_power_w") == pytest.approx(8632.54, abs=0.305)
    assert number(found, "fundamental_reactive_power_var") == pytest.approx(5000.0, abs=0.005)
    assert number(found, "phase_angle_deg") == pytest.approx(30.0, abs=1e-6)
    assert number(found, "displacement_power_factor") == pytest.approx(0.866025, abs=5e-6)
    assert number(found, "power_factor") == pytest.approx(0.8208, abs=5e-5)  # 8632.8 / 10517.5
    assert number(found, "non_active_power_var") == pytest.approx(6007.713, abs=0.05)  # root of S^2 - P^2, ours
    assert found["power_factor_sense"].value == "lagging"


# The angles exactly as transcribed (234 degrees twice): no printed result, so against a sum of phasors (ours).
def test_ieee_1459_annex_b_as_transcribed() -> None:
    rows = waves(50.0, sine_series(VOLTS, V_ANGLES), sine_series(AMPS, (-30, -165, 234, 234)))
    found = read(window([voltage(), current(limit_a=400)], rows))
    assert number(found, "active_power_w") == pytest.approx(8589.162, abs=0.01)
    assert number(found, "power_factor") == pytest.approx(0.816655, abs=5e-6)


def shape(wave: Wave, hertz: float = 50.0) -> dict[str, Reading]:
    return read(window([current()], waves(hertz, wave, start_turns=0.2)))


# Bimbhra, Power Electronics, examples 8.8 to 8.10, pp. 473-475 (read in a companion of worked examples): THD 0.4834,
# over all orders. To order 40 it is sqrt(sum of 1/h^2 over odd h from 3 to 39) = 0.4703 (ours, by the same series).
@pytest.mark.parametrize("hertz", [50.0, 50.21, 60.0])
def test_square_wave(hertz: float) -> None:
    found = shape(square(int(10_000 / hertz)), hertz)
    harmonics = found["current_harmonics_a"].value
    assert isinstance(harmonics, tuple)
    assert len(harmonics) == 50
    assert harmonics[0] * sqrt(2) == pytest.approx(1.273239545, rel=1e-4)
    assert harmonics[2] / harmonics[0] == pytest.approx(0.3333333333, abs=1e-4)
    assert harmonics[4] / harmonics[0] == pytest.approx(0.2, abs=1e-4)
    assert number(found, "current_thd_percent") == pytest.approx(47.03, abs=0.01)
    assert number(found, "current_rms_a") == pytest.approx(1.0, abs=0.002)  # the series ends at half the sample rate
    whole = sqrt(number(found, "current_rms_a") ** 2 - harmonics[0] ** 2) / harmonics[0]
    assert whole == pytest.approx(0.4834, abs=0.004)  # orders to 166 (60 Hz) of it: 0.4803


# RMS 0.57735, crest factor 1.7320508 (a public table of waveform constants); THD 0.12115 and h3/h1 = 1/9 by the series.
@pytest.mark.parametrize("hertz", [50.0, 49.7])
def test_triangle_wave(hertz: float) -> None:
    found = shape(triangle(int(10_000 / hertz)), hertz)
    harmonics = found["current_harmonics_a"].value
    assert isinstance(harmonics, tuple)
    assert number(found, "current_rms_a") == pytest.approx(0.5773502692, rel=1e-4)
    assert number(found, "current_crest_factor") == pytest.approx(1.7320508, rel=0.01)  # a sample need not meet the tip
    assert harmonics[2] / harmonics[0] == pytest.approx(0.1111111111, abs=1e-4)
    assert number(found, "current_thd_percent") == pytest.approx(12.115, abs=0.01)


# Fourier series of the half-wave rectified sine (mathematics): RMS 0.5, mean 1/pi, h2 peak 2/(3 pi), THD 0.43524.
def test_half_wave_rectified_sine() -> None:
    def half(turns: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.maximum(np.sin(2 * np.pi * turns), 0.0)

    found = shape(half)
    harmonics = found["current_harmonics_a"].value
    assert isinstance(harmonics, tuple)
    assert number(found, "current_rms_a") == pytest.approx(0.5, abs=1e-5)
    assert number(found, "current_mean_a") == pytest.approx(0.3183098862, abs=1e-4)
    assert number(found, "current_crest_factor") == pytest.approx(2.0, rel=1e-3)
    assert harmonics[1] * sqrt(2) == pytest.approx(0.2122065908, abs=1e-4)
    assert harmonics[3] * sqrt(2) == pytest.approx(0.04244131816, abs=1e-4)
    assert number(found, "current_thd_percent") == pytest.approx(43.524, abs=0.01)


# Synchronous speeds as three public tables print them (14 poles: exact value, the tables round 514.29 both ways).
@pytest.mark.parametrize(
    ("poles", "rpm_60", "rpm_50"),
    [
        (2, 3600, 3000),
        (4, 1800, 1500),
        (6, 1200, 1000),
        (8, 900, 750),
        (10, 720, 600),
        (12, 600, 500),
        (14, 514.2857, 428.5714),
        (16, 450, 375),
    ],
)
def test_synchronous_speeds(poles: int, rpm_60: float, rpm_50: float) -> None:
    for hertz, rpm in ((60.0, rpm_60), (50.0, rpm_50)):
        found = slip_at(hertz, poles, None)
        assert number(found, "synchronous_speed_rpm") == pytest.approx(rpm, abs=0.01)


def slip_at(hertz: float, poles: int, rpm: float | None) -> dict[str, Reading]:
    rows = waves(hertz, series({1: 230 + 0j}), series({1: 0.5 + 0j}))
    speed = None if rpm is None else Reading("speed_rpm", rpm)
    plate = Plate(pole_pairs=poles // 2)
    return read(window([voltage(), current()], rows), PERMANENT_SPLIT_CAPACITOR, plate, speed)


def test_hubert_example_4_1() -> None:
    # Hubert, Electric Machines, example 4.1, p. 140 (read in a companion): six poles on 85 % of 60 Hz, 1020.0 r/min.
    assert number(slip_at(0.85 * 60, 6, None), "synchronous_speed_rpm") == pytest.approx(1020.0, abs=0.05)


def test_guru_example_9_1() -> None:
    # Guru and Hiziroglu, 3rd ed., example 9.1, p. 513 (read in a companion): four poles, 60 Hz, 1755 r/min, s = 0.025.
    found = slip_at(60.0, 4, 1755.0)
    assert number(found, "synchronous_speed_rpm") == pytest.approx(1800, abs=0.5)
    assert number(found, "slip") == pytest.approx(0.025, abs=0.0005)

    # The field in the rotor turns at s f, which is 1.5 Hz there.
    assert number(found, "slip") * number(found, "frequency_hz") == pytest.approx(1.5, abs=0.05)


def test_bhattacharya_example_4_1() -> None:
    # Bhattacharya, Electrical Machines, example 4.1, p. 288 (read in a companion): six poles, 50 Hz, 4 % slip: 1000 and
    # 960 r/min.
    found = slip_at(50.0, 6, 960.0)
    assert number(found, "synchronous_speed_rpm") == pytest.approx(1000, abs=0.5)
    assert number(found, "slip") == pytest.approx(0.04, abs=5e-4)


def test_hubert_example_5_5() -> None:
    # Hubert, example 5.5, p. 187 (read in a companion): twelve poles, 60 Hz, 591.1 r/min; a quarter more load on the
    # straight part of the curve is a quarter more slip, 588.875 r/min.
    before, after = (number(slip_at(60.0, 12, rpm), "slip") for rpm in (591.1, 588.875))
    assert after / before == pytest.approx(1.25, rel=1e-6)


def test_chapman_example_7_4() -> None:
    # Chapman, example 7-4 (inputs read in course notes, results from memory): two poles, 50 Hz, 2950 r/min: 1.67 %.
    assert 100 * number(slip_at(50.0, 2, 2950.0), "slip") == pytest.approx(1.67, abs=0.005)


def test_chapman_example_7_1() -> None:
    # Chapman, example 7-1 (from memory): four poles, 60 Hz, slip 5 %: 1800 and 1710 r/min.
    assert number(slip_at(60.0, 4, 1710.0), "slip") == pytest.approx(0.05, abs=1e-6)


def test_against_the_field_the_slip_is_above_one() -> None:
    assert number(slip_at(50.0, 4, -1500.0), "slip") == pytest.approx(2.0)
    assert slip_at(50.0, 4, None)["slip"].confidence is Confidence.ABSENT
