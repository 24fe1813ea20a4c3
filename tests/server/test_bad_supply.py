"""Supplies, sensors and plates that are not what the rig was set up for: from the wire bytes to the words."""

from dataclasses import replace
from math import pi, sqrt

import numpy as np
import pytest

from server.connection import Correctness
from server.pipeline import Output
from server.readings import Confidence
from tests.server.bad_supply import RATE_HZ, Floats, Wave, channel, level, played, readings, sine
from tests.server.pipelines import instants, reading, run
from tests.server.quantities.windows import number
from tests.server.tiny_board import PLATE, TinyBoard

FAN = "permanent_split_capacitor"
FAN_PLATE = "voltage_v = 230.0\nfrequency_hz = 50.0\ncurrent_a = 2.0\nspeed_rpm = 1400.0\npole_pairs = 2\n"
MAGNET = "permanent_magnet_dc"
MAGNET_PLATE = (
    "voltage_v = 12.0\ncurrent_a = 3.0\nspeed_rpm = 3000.0\nwinding_resistance_ohm = 0.4\nback_emf_constant = 0.03\n"
)
RATIOS = ("power_factor", "power_factor_sense", "phase_angle_deg", "displacement_power_factor")
OF_WAVES = ("frequency_hz", "phase_angle_deg", "current_thd_percent", "fundamental_reactive_power_var", "slip")


def fan(volts: Wave, amps: Wave) -> Output:
    return played(FAN, channel("supply", volts, 400.0, 1), channel("line", amps, 10.0, 2), plate=FAN_PLATE)


def test_alternating_current_on_a_rig_for_direct_current() -> None:
    motor = channel("motor", sine(12.0), 40.0, 1), channel("motor", sine(2.0, behind_rad=0.5), 10.0, 2)
    found = readings(played(MAGNET, *motor, plate=MAGNET_PLATE))
    assert found["voltage_rms_v"].value == pytest.approx(12.0, rel=1e-3)
    assert found["voltage_mean_v"].confidence is Confidence.ABSENT  # "0 V" must not stand for live mains
    assert found["voltage_mean_v"].reason == "the voltage alternates at 50 Hz with 12 V RMS: its mean says nothing"
    assert found["current_mean_a"].reason == "the current alternates at 50 Hz with 2 A RMS: its mean says nothing"
    assert found["active_power_w"].value == pytest.approx(24 * np.cos(0.5), rel=1e-3)
    assert found["winding_resistance_ohm"].reason == "no direct current flows"


def test_what_alternates_at_the_terminals_of_a_magnet_motor_without_current_is_no_emf() -> None:
    motor = channel("motor", sine(6.0), 40.0, 1), channel("motor", level(0.0), 10.0, 2)
    found = readings(played(MAGNET, *motor, plate=MAGNET_PLATE))
    assert found["emf_speed_rpm"].reason == "the voltage alternates: it is no EMF of a commutator"


def test_direct_current_on_a_rig_for_alternating_current() -> None:
    found = readings(fan(level(24.0), level(1.0)))
    for key in OF_WAVES:
        assert (found[key].confidence, found[key].reason) == (Confidence.ABSENT, "direct voltage"), key
    assert found["voltage_mean_v"].value == pytest.approx(24.0, rel=2e-3)
    assert found["active_power_w"].value == pytest.approx(24.0, rel=2e-3)


def test_without_voltage_or_current_ratios_are_absent_and_no_figure_is_none() -> None:
    dark = readings(fan(level(0.0), sine(1.0)))
    for key in RATIOS[:1]:
        assert dark[key].reason == "voltage below 0.1 V: the ratio means nothing"
    for key in OF_WAVES:
        assert dark[key].reason == "alternating voltage below 0.1 V: too small for a frequency", key
    idle = readings(fan(sine(230.0), level(0.0)))
    for key in (*RATIOS, "current_thd_percent", "current_crest_factor", "non_active_power_var"):
        assert (idle[key].value, idle[key].confidence) == (None, Confidence.ABSENT), key
        assert idle[key].reason == "current below 0.0025 A: the ratio means nothing", key
    assert idle["frequency_hz"].value == pytest.approx(50.0, abs=1e-3)


def test_without_a_voltage_channel_there_is_no_power_and_the_frequency_is_that_of_the_current() -> None:
    found = readings(played(FAN, channel("line", sine(1.0), 10.0, 2), plate=FAN_PLATE))
    assert not {"active_power_w", "power_factor", "frequency_hz"} & set(found)
    assert found["current_frequency_hz"].value == pytest.approx(50.0, abs=1e-3)


@pytest.mark.parametrize(
    ("hertz", "reason"),
    [
        (3.0, "fewer than two whole cycles in the window"),
        (7.0, "fewer than two whole cycles in the window"),
        (12.0, ""),
        (390.0, ""),
        (450.0, "450 Hz is above 400 Hz: switching or noise may be taken for the supply"),
        (3000.0, "the voltage has no wave up to 2500 Hz, an eighth of the sample rate: too fast, or noise"),
    ],
)
def test_frequencies_that_no_motor_is_fed_with(hertz: float, reason: str) -> None:
    fed = channel("supply", sine(200.0, hertz), 400.0, 1), channel("line", sine(1.0, hertz, 0.5), 10.0, 2)
    found = readings(played(FAN, *fed, plate=FAN_PLATE))
    assert found["frequency_hz"].reason == reason
    assert found["phase_angle_deg"].reason == reason
    slow = reason.startswith("fewer")
    for key, true in (("voltage_rms_v", 200.0), ("active_power_w", 200.0 * np.cos(0.5))):
        assert found[key].reason == (reason if slow else ""), key
        assert slow or found[key].value == pytest.approx(true, rel=2e-3), key


def test_the_electrical_frequency_of_a_brushless_motor_may_be_higher() -> None:
    phases = [channel(place, sine(5.0, 900.0, 2 * pi * k / 3), 20.0, k) for k, place in enumerate("UVW")]
    found = readings(played("brushless", channel("dc link", level(36.0), 60.0, 9), *phases, plate="pole_pairs = 7\n"))
    assert found["current_frequency_hz"].confidence is Confidence.GOOD
    assert found["current_frequency_hz"].value == pytest.approx(900.0, abs=0.01)


def chopped(t: Floats) -> Floats:
    """230 V from 90 degrees of each half on: RMS 162.635 V, power factor 1 / root of 2 (a table on codingace.net)."""
    wave = 230 * sqrt(2) * np.sin(100 * pi * t)
    return np.where((100 * t) % 1 < 0.5, 0.0, wave)


def test_a_chopped_supply_is_measured_as_it_is() -> None:
    fed = channel("supply", sine(230.0), 400.0, 1), channel("line", lambda t: chopped(t) / 100, 10.0, 2)
    found = readings(played(FAN, *fed, plate=FAN_PLATE))
    assert found["current_rms_a"].value == pytest.approx(1.62635, rel=5e-3)
    assert found["power_factor"].value == pytest.approx(sqrt(0.5), rel=5e-3)
    assert found["power_factor_sense"].value == "lagging"
    behind = channel("supply", chopped, 400.0, 1), channel("line", lambda t: chopped(t) / 100, 10.0, 2)
    load = readings(played(FAN, *behind, plate=FAN_PLATE))
    assert load["voltage_rms_v"].value == pytest.approx(162.635, rel=5e-3)
    for each in (found, load):
        assert [key for key in ("frequency_hz", "current_rms_a", "current_thd_percent") if each[key].reason] == []


@pytest.mark.parametrize(("half", "mean", "rms"), [(True, 1 / pi, 0.5), (False, 2 / pi, sqrt(0.5))])
def test_a_rectified_supply_has_its_mean_and_its_rms_and_was_not_switched(half: bool, mean: float, rms: float) -> None:
    def rectified(t: Floats) -> Floats:
        wave = np.sin(100 * pi * t)
        return 17.0 * (np.maximum(wave, 0.0) if half else np.abs(wave))

    motor = channel("motor", rectified, 40.0, 1), channel("motor", lambda t: rectified(t) / 10, 10.0, 2)
    found = readings(played(MAGNET, *motor, plate=MAGNET_PLATE))
    for key, share in (("voltage_mean_v", mean), ("voltage_rms_v", rms)):
        assert found[key].value == pytest.approx(17 * share, rel=2e-3), key
        assert found[key].reason == "", key


def test_a_supply_that_came_on_late_in_a_window_is_neither_slow_nor_chopped() -> None:
    def late(t: Floats) -> Floats:
        return np.where(t < 0.3966, 0.0, sine(230.0)(t))

    output = fan(late, lambda t: late(t) / 230.0)
    came, after = readings(output, -2), readings(output)
    assert came["frequency_hz"].reason == "it came or went within the window"
    for key in ("voltage_rms_v", "active_power_w"):
        assert came[key].reason == "the supply was switched within the window", key
        assert after[key].confidence is Confidence.GOOD, key


CARRIER_HZ, FINER = 4000.0, 40


def inverter(t: Floats) -> Floats:
    """Voltage between two legs of a bridge on 325 V that follow 0.8 of a sine, by a triangle."""
    wanted = 0.8 * np.sin(100 * pi * t)
    triangle = 4 * np.abs((t * CARRIER_HZ + 0.123) % 1 - 0.5) - 1
    return 325.0 * ((wanted > triangle).astype(float) - (-wanted > triangle))


def behind_a_filter(t: Floats) -> Floats:
    """The same behind a resistor and a capacitor with a corner of 3 kHz, stepped finely."""
    share = 1 - np.exp(-2 * pi * 3000.0 / (RATE_HZ * FINER))
    fine, kept, value = inverter(np.arange(t.size * FINER) / (RATE_HZ * FINER)).tolist(), [], 0.0
    for k, wanted in enumerate(fine):
        if k % FINER == 0:
            kept.append(value)
        value += share * (wanted - value)
    return np.array(kept)


def test_an_inverter_without_a_filter_is_doubtful_in_all_but_its_frequency() -> None:
    def amps(t: Floats) -> Floats:
        return sqrt(2) * np.sin(100 * pi * t - 0.6)

    fed = channel("supply", inverter, 400.0, 1), channel("line", amps, 10.0, 2)
    found = readings(played(FAN, *fed, plate=FAN_PLATE), window=0)
    folded = "near or above half the sample rate, 10000 Hz: what is faster is taken for something slower"
    forms = ("voltage_thd_percent", "voltage_peak_v", "voltage_crest_factor", "voltage_harmonics_v")
    for key in (*forms, "voltage_thds_percent", "voltage_rms_v", "voltage_mean_v", "active_power_w", "power_factor"):
        assert found[key].confidence is Confidence.DOUBTFUL, key
        assert folded in found[key].reason, key
    # Five samples to a period of the carrier: by what folds onto the fundamental, power is 2 % off. It is 0.8 x 325 V
    # of fundamental, and of the current nothing else: 0.8 x 325 / root of 2 x 1 A x cos 0.6.
    off = number(found, "active_power_w") / (0.8 * 325 / sqrt(2) * np.cos(0.6)) - 1
    assert 0.01 < off < 0.03
    for key in ("frequency_hz", "current_thd_percent", "current_rms_a"):
        assert found[key].confidence is Confidence.GOOD, key


def test_a_chopper_on_direct_current_whose_duty_no_sample_can_tell_has_a_doubtful_mean() -> None:
    def duty(t: Floats) -> Floats:
        return np.where((t * 4000.0 + 0.05) % 1 < 0.5, 12.0, 0.0)  # five samples to a period: 2 or 3 of them on

    motor = channel("motor", duty, 40.0, 1), channel("motor", level(2.0), 10.0, 2)
    found = readings(played(MAGNET, *motor, plate=MAGNET_PLATE))
    assert found["voltage_mean_v"].confidence is Confidence.DOUBTFUL
    assert "what is faster is taken for something slower" in found["voltage_mean_v"].reason
    assert abs(number(found, "voltage_mean_v") - 6.0) > 0.5
    assert found["current_mean_a"].confidence is Confidence.GOOD


def test_an_inverter_behind_a_filter_has_an_rms_that_is_a_lower_bound() -> None:
    fed = channel("supply", behind_a_filter, 400.0, 1, corner_high_hz=3000.0), channel("line", sine(1.0), 10.0, 2)
    found = readings(played(FAN, *fed, plate=FAN_PLATE))
    lost = "near or above the channel's upper corner, 3000 Hz: what is faster is not in it"
    for key in ("voltage_rms_v", "voltage_peak_v", "apparent_power_va", "power_factor"):
        assert found[key].confidence is Confidence.DOUBTFUL, key
        assert lost in found[key].reason, key
    assert found["voltage_rms_v"].reason.startswith("at least this much: ")
    assert 184.0 < number(found, "voltage_rms_v") < 232.0  # 0.8 x 325 / root of 2 of it is the fundamental
    assert found["frequency_hz"].confidence is Confidence.GOOD


def test_a_clipped_current_is_a_lower_bound_and_has_no_form() -> None:
    found = readings(fan(sine(230.0), sine(8.0)))
    assert found["current_rms_a"].reason == "at least this much: clipped at ±10 A"
    for key in ("current_peak_a", "current_crest_factor", "current_thd_percent", "current_harmonics_a"):
        assert (found[key].value, found[key].reason) == (None, "clipped at ±10 A"), key
    assert found["power_factor"].reason == "clipped at ±10 A"


def test_a_gap_is_told_with_its_samples_and_the_next_window_is_good() -> None:
    fed = channel("supply", sine(230.0), 400.0, 1), channel("line", sine(1.0), 10.0, 2)
    output = played(FAN, *fed, plate=FAN_PLATE, cut=slice(500, 520))
    torn, after = readings(output, -2), readings(output)
    assert torn["voltage_rms_v"].confidence is Confidence.DOUBTFUL
    assert torn["voltage_rms_v"].reason.endswith(" of 4000 samples missing")
    assert torn["frequency_hz"].reason == "the window has a gap"
    assert after["frequency_hz"].confidence is Confidence.GOOD


def test_a_clamp_that_passes_no_direct_current_leaves_no_power_and_no_resistance() -> None:
    motor = channel("motor", level(12.0), 40.0, 1), channel("motor", level(0.0), 10.0, 2, ac_coupled=True)
    found = readings(played(MAGNET, *motor, plate=MAGNET_PLATE))
    hidden = "the sensor is AC-coupled: a direct part is not in it"
    for key in ("current_rms_a", "current_mean_a", "active_power_w", "winding_resistance_ohm", "torque_constant"):
        assert found[key].reason == hidden, key
        assert found[key].confidence is not Confidence.GOOD


def test_a_dead_channel_is_told_while_others_move() -> None:
    lines = [channel(f"L{k + 1}", sine(230.0, behind_rad=2 * pi * k / 3), 400.0, k) for k in range(3)]
    dead = replace(lines[2], values=np.zeros_like(lines[2].values))
    output = played("three_phase_induction", *lines[:2], dead, plate=FAN_PLATE)
    told = {each.id: each for each in output.findings or ()}["alive", "voltage", "L3"]
    assert told.verdict is Correctness.WRONG
    assert told.text == "The voltage of L3 stood at 0 V, the middle of its range, without any noise."
    assert told.change.startswith("Nothing seems to be connected to this input of the board")


# 1400 r/min of six poles on 50 Hz would be 400 above their field: four poles, or other pulses to a turn.
def test_a_shaft_faster_than_the_field_of_its_plate_makes_the_slip_doubtful() -> None:
    plate = PLATE.replace("pole_pairs = 2", "pole_pairs = 3").replace("speed_rpm = 1400.0\n", "")
    output = run(
        TinyBoard(plate=plate).wire(((1.0, 0.0, 0.0, 0.0), (0.4, 230.0, 1.5, 1400.0), (1.6, 230.0, 0.5, 1400.0)))
    )
    slip = reading([each for each in instants(output) if any(r.key == "slip" for r in each.readings)][-1], "slip")
    assert slip.value == pytest.approx(-0.4, abs=0.01)
    assert slip.confidence is Confidence.DOUBTFUL
    assert slip.reason == "faster than its field: are pole pairs and pulses to a turn as on the plate?"
