"""What lowers the confidence of which readings, and that nothing else is touched."""

from dataclasses import replace
from math import pi, sqrt

import numpy as np
import pytest

from firmware_protocol import SampleKind
from server.config import Plate
from server.motors import BRUSHLESS, PERMANENT_SPLIT_CAPACITOR
from server.quantities import window_readings
from server.readings import Confidence, Doubt, Reading
from tests.server.bench_stories import told
from tests.server.quantities.windows import current, number, read, voltage, waves, window
from tests.server.signals.slow import series

LAGGING, SUPPLY = series({1: 0.5 * np.exp(-0.4j), 3: 0.05 + 0j}), series({1: 230 + 0j})
VENTILATOR = [voltage("supply"), voltage("capacitor", 600), current("line"), current("auxiliary", 5)]
SHAPES = (SUPPLY, series({1: 300j}), LAGGING, series({1: 0.3j}))
PLATE = Plate(voltage_v=230, frequency_hz=50, current_a=0.55, pole_pairs=2)
SPEED = Reading("speed_rpm", 1420.0)


def ventilator(**damage: object) -> dict[str, Reading]:
    """What the samples say; of the speed the edges say all."""
    made = window(VENTILATOR, waves(50.02, *SHAPES), **damage)  # type: ignore[arg-type]  # passed on
    found = read(made, PERMANENT_SPLIT_CAPACITOR, PLATE, SPEED)
    assert found["speed_rpm"] == SPEED
    return {key: each for key, each in found.items() if key not in ("speed_rpm", "speed_source", "emf_speed_rpm")}


def kinds(readings: dict[str, Reading], *confidences: Confidence) -> set[str]:
    return {key for key, each in readings.items() if each.confidence in confidences}


def test_a_clean_window_is_good_throughout() -> None:
    assert kinds(ventilator(), Confidence.DOUBTFUL, Confidence.ABSENT) == set()


def test_missing_samples_leave_rms_mean_and_powers_doubtful_and_take_the_rest() -> None:
    found = ventilator(missing=slice(1000, 1128))
    rest = {key for key in found if key.split(".")[0] in KEPT}
    assert kinds(found, Confidence.DOUBTFUL) == rest
    assert kinds(found, Confidence.ABSENT) == set(found) - rest
    assert found["current_rms_a"].reason == "128 of 4000 samples missing"
    assert {found[key].reason for key in set(found) - rest} == {"the window has a gap"}
    clean = ventilator()
    for key in rest:
        assert number(found, key) == pytest.approx(number(clean, key), rel=0.05, abs=15.0), key


KEPT = {
    "voltage_rms_v",
    "voltage_mean_v",
    "current_rms_a",
    "current_mean_a",
    "active_power_w",
    "apparent_power_va",
    "power_factor",
    "non_active_power_var",
}


def test_where_nothing_came_everything_is_absent() -> None:
    found = ventilator(missing=slice(0, 4000))
    assert set(found) == set(ventilator())
    assert {each.reason for each in found.values()} == {"no sample of this window came"}


def test_a_clipped_current_touches_its_own_readings_alone() -> None:
    clean, found = ventilator(), ventilator(clipped=(2, slice(100, 130)))
    touched = {key for key in found if found[key] != clean[key]}
    assert touched == {
        "current_harmonic_angles_deg",
        "current_fundamental_a",
        "current_angle_deg",
        "current_harmonic_groups_a",
        "current_harmonic_subgroups_a",
        "current_interharmonic_subgroups_a",
        "current_thdg_percent",
        "current_thds_percent",
        "current_rms_a",
        "current_mean_a",
        "current_peak_a",
        "current_crest_factor",
        "current_half_cycle_min_a",
        "current_half_cycle_max_a",
        "current_harmonics_a",
        "current_thd_percent",
        "active_power_w",
        "apparent_power_va",
        "power_factor",
        "power_factor_sense",
        "phase_angle_deg",
        "displacement_power_factor",
        "fundamental_reactive_power_var",
        "non_active_power_var",
    }
    assert found["current_rms_a"].reason == "at least this much: clipped at ±10 A"
    assert (found["current_rms_a"].doubt, found["active_power_w"].doubt) == (Doubt.AT_LEAST, Doubt.NONE)
    for key in ("current_peak_a", "current_crest_factor", "current_harmonics_a", "current_thd_percent"):
        assert found[key] == Reading(key, None, Confidence.ABSENT, "clipped at ±10 A")
    assert found["active_power_w"].confidence is Confidence.DOUBTFUL


def test_a_clipped_voltage_makes_frequency_and_slip_doubtful() -> None:
    found = ventilator(clipped=(0, slice(0, 4)))
    for key in ("frequency_hz", "synchronous_speed_rpm", "slip", "phase_angle_deg", "active_power_w.auxiliary"):
        assert found[key].confidence is Confidence.DOUBTFUL, key
    for key in ("current_rms_a", "current_thd_percent", "current_peak_a", "voltage_rms_v.capacitor"):
        assert found[key].confidence is Confidence.GOOD, key


def test_an_uneven_range_is_named_by_both_ends() -> None:
    link = voltage("dc link", low=-5.0, high=45.0)
    found = read(window([link], [np.full(4000, 45.0)], clipped=(0, slice(0, 9))), BRUSHLESS)
    assert found["voltage_rms_v"].reason == "at least this much: clipped at -5 to 45 V"


def test_of_a_resting_current_the_level_is_a_number_and_ratios_are_not() -> None:
    noise = np.random.default_rng(5).normal(0, 0.002, 4000)
    channels = [voltage(), current(noise_rms=0.002)]
    found = read(window(channels, [waves(50.0, SUPPLY)[0], noise]), PERMANENT_SPLIT_CAPACITOR, PLATE)
    near = pytest.approx(0.002, rel=0.05)
    assert found["current_rms_a"] == Reading("current_rms_a", near, least=0.006)  # type: ignore[arg-type]  # stands for a float
    small = "current below 0.006 A: the ratio means nothing"
    ratios = ("power_factor", "power_factor_sense", "phase_angle_deg", "displacement_power_factor")
    for key in (*ratios, "current_thd_percent", "current_crest_factor"):
        assert found[key] == Reading(key, None, Confidence.ABSENT, small), key
    assert found["active_power_w"].confidence is Confidence.GOOD
    assert found["frequency_hz"].confidence is Confidence.GOOD


def test_what_may_be_the_offset_of_a_channel_has_no_ratios() -> None:
    channels = [voltage(), current("line", offset_limit=0.01), current("auxiliary", offset_limit=0.01)]
    rows = [*waves(50.0, SUPPLY), np.full(4000, 0.009), *waves(50.0, series({1: 0.02 + 0j}))]
    found = read(window(channels, rows), PERMANENT_SPLIT_CAPACITOR, PLATE)
    small = "current below 0.013 A: the ratio means nothing"
    for key in ("power_factor", "current_crest_factor"):
        assert found[key] == Reading(key, None, Confidence.ABSENT, small), key
        assert found[f"{key}.auxiliary"].confidence is Confidence.GOOD


@pytest.mark.parametrize("motor", ["cabin_ventilator", "tender_thruster"])
def test_of_a_motor_at_rest_no_ratio_is_given(motor: str) -> None:
    story = {"cabin_ventilator": "start and load", "tender_thruster": "reversal"}[motor]
    said = told(motor, story)
    rest = next(each for each in said.instants if each.board_s == 0.8)
    ratios = [each for each in rest.readings if "factor" in each.key or "thd" in each.key or "phase_angle" in each.key]
    assert len(ratios) > 3
    for each in ratios:
        assert each.confidence is Confidence.ABSENT, each


def test_without_stated_noise_half_a_percent_of_the_range_is_the_limit() -> None:
    made = window([current(limit_a=40)], waves(50.0, series({1: 0.19 + 0j})))
    silent = replace(made, channels=tuple(replace(each, noise_rms=None) for each in made.channels))
    assert read(silent)["current_frequency_hz"].reason == "alternating current below 0.2 A: too small for a frequency"


def test_with_the_supply_off_frequency_and_what_needs_it_are_absent() -> None:
    noise = np.random.default_rng(6).normal(0, 1e-3, (4, 4000))
    found = read(window(VENTILATOR, noise), PERMANENT_SPLIT_CAPACITOR, PLATE, SPEED)
    for key in ("frequency_hz", "synchronous_speed_rpm", "slip", "phase_angle_deg", "current_thd_percent"):
        assert found[key].confidence is Confidence.ABSENT, key
        assert "voltage below" in found[key].reason, key
    assert found["voltage_rms_v"].confidence is Confidence.GOOD


def test_a_direct_voltage_has_no_frequency() -> None:
    rows = [np.full(4000, 12.0) + 0.1 * np.sin(np.arange(4000) / 9), np.full(4000, 2.0)]
    found = read(window([voltage("terminals"), current()], rows))
    assert found["frequency_hz"].reason == "direct voltage"
    assert number(found, "voltage_mean_v") == pytest.approx(12.0, abs=1e-3)
    assert number(found, "active_power_w") == pytest.approx(24.0, rel=1e-3)
    assert number(found, "power_factor") == pytest.approx(1.0, rel=1e-3)


def test_orders_at_or_above_half_the_sample_rate_are_not_invented() -> None:
    # 60 Hz at 1000 samples a second: order 8 is 480 Hz, order 9 would be 540 Hz.
    shape = series({1: 3 + 0j, 5: 0.3 + 0j, 8: 0.03 + 0j})
    found = read(window([current()], waves(60.0, shape, rate_hz=1000.0), rate_hz=1000.0))
    harmonics, thd = found["current_harmonics_a"], found["current_thd_percent"]
    assert isinstance(harmonics.value, tuple)
    assert harmonics.value == pytest.approx((3, 0, 0, 0, 0.3, 0, 0, 0.03), abs=1e-4)
    assert harmonics.reason == "orders from 9 on are not below half the sample rate, 500 Hz"
    assert thd.confidence is Confidence.DOUBTFUL
    assert thd.reason == "orders 2 to 8 alone: orders from 9 on are not below half the sample rate, 500 Hz"
    assert number(found, "current_thd_percent") == pytest.approx(100 * sqrt(0.3**2 + 0.03**2) / 3, abs=1e-3)


def test_orders_above_the_channels_upper_corner_are_absent_and_say_so() -> None:
    found = read(window([current(corner_high_hz=1000.0)], waves(50.0, LAGGING)))
    harmonics = found["current_harmonics_a"]
    assert isinstance(harmonics.value, tuple)
    assert len(harmonics.value) == 20
    assert harmonics.reason == "orders from 21 on are above the channel's upper corner, 1000 Hz"
    narrow = read(window([current(corner_high_hz=70.0)], waves(50.0, LAGGING)))
    assert narrow["current_thd_percent"].confidence is Confidence.ABSENT


def test_a_wave_that_changes_in_the_window_makes_what_rests_on_its_frequency_doubtful() -> None:
    t = np.arange(4000) / 20_000
    swept = 230 * np.sin(2 * pi * (50.0 * t + 20.0 * t * t))
    found = read(window([voltage(), current()], [swept, swept / 230]))
    for key in ("frequency_hz", "phase_angle_deg", "current_thd_percent", "current_harmonics_a"):
        assert found[key].confidence is Confidence.DOUBTFUL, key
        assert "not steady" in found[key].reason
    for key in ("voltage_rms_v", "current_rms_a", "active_power_w", "current_peak_a"):
        assert found[key].confidence is Confidence.GOOD, key


def test_a_doubtful_speed_makes_the_slip_doubtful_and_an_absent_one_absent() -> None:
    made = window(VENTILATOR, waves(50.02, *SHAPES))
    doubt = Reading("speed_rpm", 100.0, Confidence.DOUBTFUL, "no edge for 0.1 s: at most this")
    found = read(made, PERMANENT_SPLIT_CAPACITOR, PLATE, doubt)
    assert found["slip"].reason == doubt.reason
    assert found["synchronous_speed_rpm"].confidence is Confidence.GOOD
    found = read(made, PERMANENT_SPLIT_CAPACITOR, PLATE, None)
    assert found["slip"].reason == "no input gives the speed"


def test_an_ac_coupled_sensor_has_no_mean_and_hides_a_direct_current() -> None:
    ac = current("dc link", ac_coupled=True)
    found = read(window([voltage("dc link"), ac], [np.full(4000, 36.0), np.zeros(4000)]), BRUSHLESS)
    assert found["current_mean_a"].confidence is Confidence.ABSENT
    assert found["current_rms_a"].confidence is Confidence.DOUBTFUL
    mains = read(window([voltage(), current(ac_coupled=True)], waves(50.0, SUPPLY, LAGGING)), PERMANENT_SPLIT_CAPACITOR)
    assert "current_mean_a" not in mains
    assert mains["current_rms_a"].confidence is Confidence.GOOD


def test_samples_that_are_means_or_rms_values_give_levels_alone() -> None:
    means = read(window([current(kind=SampleKind.MEAN)], [np.full(4000, 2.0)]))
    assert set(means) == {"current_rms_a", "current_mean_a"}
    assert means["current_rms_a"].confidence is Confidence.DOUBTFUL
    assert means["current_mean_a"].confidence is Confidence.GOOD
    levels = read(window([current(kind=SampleKind.RMS)], [np.full(4000, 2.0)]))
    assert levels == {"current_rms_a": Reading("current_rms_a", 2.0)}


DAMAGES: list[dict[str, object]] = [{"missing": slice(7, 9)}, {"clipped": (3, slice(2))}, {"missing": slice(4000)}]


@pytest.mark.parametrize("damage", DAMAGES)
def test_which_readings_there_are_does_not_depend_on_the_samples(damage: dict[str, object]) -> None:
    assert list(ventilator(**damage)) == list(ventilator())


def test_the_same_window_gives_the_same_bits_and_no_window_remembers_another() -> None:
    draw = np.random.default_rng(9)
    rows = np.vstack(waves(50.02, *SHAPES)) + draw.normal(0, 0.01, (4, 4000))
    alone = window_readings(window(VENTILATOR, rows), PERMANENT_SPLIT_CAPACITOR, PLATE, SPEED)
    for other in (window(VENTILATOR, draw.normal(0, 99, (4, 4000))), window(VENTILATOR, rows, missing=slice(5, 50))):
        window_readings(other, PERMANENT_SPLIT_CAPACITOR, PLATE, SPEED)
        assert window_readings(window(VENTILATOR, rows.copy()), PERMANENT_SPLIT_CAPACITOR, PLATE, SPEED) == alone


LEAST_A, LEAST_V = 3e-3 + 0.02, 0.04  # three times the noise and the offset; 1e-4 of 400 V


@pytest.mark.parametrize("amps", [0.015, 0.5])
def test_what_is_below_its_channel_says_below_what(amps: float) -> None:
    channels = [voltage("supply"), current("line", offset_limit=0.02)]
    found = read(window(channels, waves(50.0, SUPPLY, series({1: amps + 0j}))))
    told = amps > LEAST_A
    assert found["current_rms_a"].least == (None if told else pytest.approx(LEAST_A))
    assert found["current_peak_a"].least == (None if told else pytest.approx(1.5 * LEAST_A))
    assert found["voltage_rms_v"].least is None
    assert found["current_mean_a"].least == pytest.approx(LEAST_A)  # of an alternating current it is nothing
    for key in ("active_power_w", "apparent_power_va", "fundamental_reactive_power_var"):
        assert found[key].least == (None if told else pytest.approx(230 * LEAST_A))


def test_powers_of_a_motor_without_supply_are_below_what_both_channels_can_tell() -> None:
    channels = [voltage("supply"), current("line", offset_limit=0.02)]
    found = read(window(channels, waves(50.0, series({1: 0.01 + 0j}), series({1: 0.01 + 0j}))))
    assert found["voltage_rms_v"].least == pytest.approx(LEAST_V)
    assert found["active_power_w"].least == pytest.approx(LEAST_V * LEAST_A)


def test_a_sequence_that_is_below_what_the_phases_can_tell_says_so() -> None:
    phases = [current(place, noise_rms=0.002) for place in "UVW"]
    turned = [series({1: 0.5 * np.exp(-2j * pi * k / 3)}) for k in range(3)]
    found = read(window([voltage("dc link"), *phases], [np.full(4000, 36.0), *waves(50.0, *turned)]), BRUSHLESS)
    assert found["current_positive_sequence_a"].least is None
    assert found["current_negative_sequence_a"].least == pytest.approx(3 * 0.002)
    assert found["current_zero_sequence_a"].least == pytest.approx(3 * 0.002)


def test_a_motor_that_draws_no_current_has_no_slip() -> None:
    noise = np.random.default_rng(5).normal(0, 0.002, 4000)
    channels = [voltage(), current(noise_rms=0.002)]
    found = read(window(channels, [0.3 * waves(38.0, SUPPLY)[0], noise]), PERMANENT_SPLIT_CAPACITOR, PLATE, SPEED)
    assert found["slip"].reason == "no current flows: it is not driven"
    wrong = replace(PLATE, current_a=1000.0)
    drawing = read(window(channels, waves(50.0, SUPPLY, LAGGING)), PERMANENT_SPLIT_CAPACITOR, wrong, SPEED)
    assert drawing["slip"].reason.endswith("of the plate's 1000 A: it is taken as not driven, if the plate is right")
