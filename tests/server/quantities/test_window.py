"""Readings of whole windows: which there are for which motor, and what must hold whatever the wave."""

from cmath import exp
from math import pi, sqrt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.config import Plate
from server.motors import BRUSHLESS, PERMANENT_SPLIT_CAPACITOR, THREE_PHASE_INDUCTION
from server.readings import Confidence, Reading
from tests.server.quantities.windows import current, number, read, voltage, waves, window
from tests.server.signals.slow import Wave, rms_phasor, series

A = exp(2j * pi / 3)
LINES = ("L1", "L2", "L3")


def test_the_single_phase_motor_has_its_main_readings_without_a_place() -> None:
    channels = [voltage("capacitor", 600), voltage("supply"), current("auxiliary"), current("line")]
    shapes = (series({1: 300j}), series({1: 230 + 0j}), series({1: 0.3j}), series({1: 0.5 * exp(-0.4j)}))
    found = read(window(channels, waves(50.0, *shapes)), PERMANENT_SPLIT_CAPACITOR, Plate(pole_pairs=2))
    assert number(found, "voltage_rms_v") == pytest.approx(230.0)
    assert number(found, "voltage_rms_v.capacitor") == pytest.approx(300.0)
    assert number(found, "current_rms_a") == pytest.approx(0.5)
    assert number(found, "phase_angle_deg") == pytest.approx(22.918, abs=1e-3)  # 0.4 rad, current behind
    assert number(found, "phase_angle_deg.auxiliary") == pytest.approx(-90.0)  # against the supply
    assert found["power_factor_sense.auxiliary"].value == "leading"
    assert "active_power_w.capacitor" not in found


def three(phasors: tuple[complex, complex, complex], size: float) -> list[Wave]:
    return [series({1: size * phasor}) for phasor in phasors]


def test_three_phase_powers_stand_each_at_its_line_and_together_without_a_place() -> None:
    channels = [*(voltage(line) for line in LINES), *(current(line) for line in LINES)]
    volts = three((1, A**2, A), 230.0)
    amps = three((exp(-0.6j), 0.9 * A**2 * exp(-0.6j), 1.1 * A * exp(-0.6j)), 3.0)
    found = read(window(channels, waves(50.1, *volts, *amps)), THREE_PHASE_INDUCTION, Plate(pole_pairs=2))
    each = [230 * 3 * share for share in (1.0, 0.9, 1.1)]
    for line, apparent in zip(LINES, each, strict=True):
        assert number(found, f"apparent_power_va.{line}") == pytest.approx(apparent, rel=1e-4)
    assert number(found, "active_power_w") == pytest.approx(sum(each) * np.cos(0.6), rel=1e-4)
    assert number(found, "arithmetic_apparent_power_va") == pytest.approx(sum(each), rel=1e-4)
    assert number(found, "power_factor") == pytest.approx(np.cos(0.6), rel=1e-4)
    effective = 3 * 230 * 3 * sqrt((1 + 0.81 + 1.21) / 3)  # IEEE 1459-2010, 3.2.2.8, from memory
    assert number(found, "effective_apparent_power_va") == pytest.approx(effective, rel=1e-4)
    assert number(found, "voltage_positive_sequence_v") == pytest.approx(230.0, rel=1e-6)
    assert number(found, "voltage_unbalance_percent") == pytest.approx(0.0, abs=1e-6)
    assert number(found, "current_rms_a.L2") == pytest.approx(2.7, rel=1e-4)


def test_sequence_of_balanced_currents_and_with_two_lines_exchanged() -> None:
    channels = [current(line) for line in LINES]
    right = read(window(channels, waves(60.0, *three((1, A**2, A), 3.0))), THREE_PHASE_INDUCTION)
    assert number(right, "current_positive_sequence_a") == pytest.approx(3.0)
    assert number(right, "current_negative_sequence_a") == pytest.approx(0.0, abs=1e-9)
    assert number(right, "current_unbalance_percent") == pytest.approx(0.0, abs=1e-6)
    assert right["current_phase_order"].value == "L1 L2 L3"
    assert number(right, "current_frequency_hz") == pytest.approx(60.0, abs=1e-6)
    turned = read(window(channels, waves(60.0, *three((1, A, A**2), 3.0))), THREE_PHASE_INDUCTION)
    assert number(turned, "current_negative_sequence_a") == pytest.approx(3.0)
    assert turned["current_phase_order"].value == "L1 L3 L2"
    assert turned["current_unbalance_percent"].confidence is Confidence.ABSENT


def test_ten_percent_negative_sequence_is_ten_percent_unbalance() -> None:
    amps = [3 * (phase + 0.1 * phase.conjugate()) for phase in (1 + 0j, A**2, A)]
    shapes = [series({1: amp}) for amp in amps]
    found = read(window([current(line) for line in LINES], waves(50.0, *shapes)))
    assert number(found, "current_unbalance_percent") == pytest.approx(10.0, abs=1e-6)


def test_two_currents_of_three_wires_give_the_third() -> None:
    amps = [3 * phase for phase in (1 + 0j, A**2, A)]
    shapes = [series({1: amp}) for amp in amps[:2]]
    found = read(window([current("L1"), current("L2")], waves(50.0, *shapes)), THREE_PHASE_INDUCTION)
    assert number(found, "current_rms_a.L3") == pytest.approx(3.0)
    assert number(found, "current_negative_sequence_a") == pytest.approx(0.0, abs=1e-9)


def test_with_line_1_lost_the_frequency_comes_from_another_line() -> None:
    channels = [*(voltage(line) for line in LINES), *(current(line) for line in LINES)]
    shapes = [*three((0, A**2, A), 230.0), *three((0, 1, -1), 3.0)]
    found = read(window(channels, waves(50.1, *shapes)), THREE_PHASE_INDUCTION)
    assert number(found, "frequency_hz") == pytest.approx(50.1, abs=1e-4)


def test_line_to_line_voltages_make_no_power_with_line_currents() -> None:
    channels = [voltage("L1-L2", 800), current("L1")]
    found = read(window(channels, waves(50.0, series({1: 400 + 0j}), series({1: 3 + 0j}))), THREE_PHASE_INDUCTION)
    assert not any(key.startswith("active_power") for key in found)


def thruster(hertz: float = 313.8) -> dict[str, Reading]:
    places = ("U", "V", "W", "dc link")
    channels = [voltage(place, low=-5.0, high=45.0) for place in places]
    channels += [current(place, 60) for place in ("U", "V", "dc link")]
    volts = waves(hertz, *(series({1: 10 * phase}, mean=18.0) for phase in (1 + 0j, A**2, A)))
    amps = waves(hertz, *(series({1: 7 * phase, 5: 1.4 * phase**5}) for phase in (1 + 0j, A**2)))
    ripple = 1.0 * np.sin(np.arange(4000) * 2 * pi * 6 * hertz / 20_000)
    rows = [*volts, 36 + 0.0 * ripple, *amps, 8.6 + ripple]
    return read(window(channels, rows), BRUSHLESS, Plate(pole_pairs=7), Reading("speed_rpm", 2690.0))


def test_the_brushless_motor_has_its_link_as_main_and_all_three_phase_currents() -> None:
    found = thruster()
    assert number(found, "voltage_mean_v") == pytest.approx(36.0)
    assert number(found, "current_mean_a") == pytest.approx(8.6, abs=1e-3)
    assert number(found, "active_power_w") == pytest.approx(36 * 8.6, rel=1e-3)
    for phase in ("U", "V", "W"):
        assert number(found, f"current_rms_a.{phase}") == pytest.approx(sqrt(7**2 + 1.4**2), rel=1e-3)
    assert number(found, "current_frequency_hz") == pytest.approx(313.8, abs=1e-3)
    assert found["current_phase_order"].value == "U V W"
    for key in ("frequency_hz", "slip", "power_factor", "phase_angle_deg", "current_thd_percent", "active_power_w.U"):
        assert key not in found, key


def test_at_half_duty_the_phase_harmonics_end_below_half_the_sample_rate() -> None:
    harmonics = thruster()["current_harmonics_a.U"]
    assert isinstance(harmonics.value, tuple)
    assert len(harmonics.value) == 31  # 32 x 313.8 Hz lies above 10 kHz
    assert harmonics.value[4] == pytest.approx(1.4, abs=1e-3)
    assert number(thruster(), "current_thd_percent.U") == pytest.approx(20.0, abs=0.05)


def test_channels_at_other_instants_are_turned_back_by_their_stated_delay() -> None:
    # The current is sampled as it was 100 us before: unaided 1.8 degrees too much lag at 50 Hz and 1.6 % of P.
    delay_s, hertz = 100e-6, 50.0
    late = delay_s * hertz
    volts, amps = series({1: 230 + 0j, 3: 10 + 0j}), series({1: 2 * exp(-0.5j), 3: 0.5 + 0j})
    plain = read(window([voltage(), current()], waves(hertz, volts, amps)))
    rows = [waves(hertz, volts)[0], waves(hertz, amps, start_turns=-late)[0]]
    delayed = read(window([voltage(), current(delay_s=delay_s)], rows))
    assert number(delayed, "phase_angle_deg") == pytest.approx(number(plain, "phase_angle_deg"), abs=1e-6)
    assert number(delayed, "active_power_w") == pytest.approx(number(plain, "active_power_w"), rel=1e-6)
    unaided = read(window([voltage(), current()], rows))
    assert number(unaided, "phase_angle_deg") - number(plain, "phase_angle_deg") == pytest.approx(1.8, abs=1e-3)


def test_generating_turns_power_and_power_factor_negative() -> None:
    found = read(window([voltage(), current()], waves(50.0, series({1: 230 + 0j}), series({1: -2 * exp(-0.3j)}))))
    assert number(found, "active_power_w") < 0
    assert number(found, "power_factor") == pytest.approx(-np.cos(0.3), rel=1e-6)


SIZES = st.floats(0.05, 3.0)
TURNS = st.floats(0.0, 1.0)


@settings(max_examples=50, deadline=None)
@given(st.floats(40.0, 400.0), TURNS, SIZES, SIZES, TURNS, TURNS)
def test_power_and_angle_do_not_depend_on_where_the_window_begins(
    hertz: float, start: float, one: float, third: float, lag: float, third_lag: float
) -> None:
    volts = series({1: 230 + 0j, 3: 12j})
    amps = series({1: one * exp(-2j * pi * lag), 3: third * exp(-2j * pi * third_lag)})
    found = read(window([voltage(), current()], waves(hertz, volts, amps, start_turns=start)))
    truth = sum((rms_phasor(volts, h, 64) * rms_phasor(amps, h, 64).conjugate()).real for h in (1, 3))
    assert number(found, "active_power_w") == pytest.approx(truth, abs=2e-3 * 230 * (one + third))
    difference = number(found, "phase_angle_deg") - 360 * lag
    assert (difference + 180) % 360 - 180 == pytest.approx(0.0, abs=1e-3)
    assert number(found, "current_rms_a") ** 2 == pytest.approx(one**2 + third**2, rel=2e-3)
    assert number(found, "power_factor") == pytest.approx(
        number(found, "active_power_w") / number(found, "apparent_power_va"), abs=1e-12
    )


@settings(max_examples=25, deadline=None)
@given(st.floats(0.05, 20.0))
def test_a_current_twice_as_large_has_the_same_ratios(scale: float) -> None:
    volts, amps = series({1: 230 + 0j}), series({1: 0.4 * exp(-0.7j), 5: 0.05 + 0j})
    rows = waves(50.3, volts, amps, start_turns=0.4)
    one = read(window([voltage(), current()], rows))
    other = read(window([voltage(), current()], [rows[0], rows[1] * scale]))
    for key in ("power_factor", "phase_angle_deg", "current_thd_percent", "current_crest_factor"):
        assert number(other, key) == pytest.approx(number(one, key), rel=1e-9), key
    for key in ("current_rms_a", "active_power_w", "current_peak_a", "fundamental_reactive_power_var"):
        assert number(other, key) == pytest.approx(number(one, key) * scale, rel=1e-9), key
