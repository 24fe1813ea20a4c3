"""The way from a true signal to codes, against closed formulas and the limits that a description states."""

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from firmware_protocol import ChannelDescription, Role
from simulator.bench import bench_motor
from simulator.front_end import FrontEnd, filter_taps, quantise

SAMPLE_S = 50e-6
CHANNEL = ChannelDescription(
    0, Role.VOLTAGE, "U", "supply", "V", 0.01, 20.0, -32_767, 32_767, group=0, ticks_per_sample=Fraction(50)
)


def test_an_exact_front_end_rounds_to_the_nearest_code_and_holds_the_ends_of_the_range() -> None:
    values = np.array([20.0, 20.006, 19.994, 20.004, 1e6, -1e6])
    assert quantise(values, CHANNEL).tolist() == [0, 1, -1, 0, 32_767, -32_767]
    exact = FrontEnd((CHANNEL,), SAMPLE_S, None)
    assert exact.codes(values[np.newaxis])[:, 0].tolist() == [0, 1, -1, 0, 32_767, -32_767]


def test_taps_add_up_to_one_and_delay_a_ramp_by_the_whole_delay() -> None:
    for delay_s, corner_hz in ((0.0, None), (37e-6, None), (120e-6, None), (12e-6, 15_000.0), (60e-6, 5_000.0)):
        taps = filter_taps(delay_s, corner_hz, SAMPLE_S)
        assert taps.sum() == pytest.approx(1.0, abs=1e-12)
        assert (taps * np.arange(len(taps))).sum() * SAMPLE_S == pytest.approx(delay_s, abs=1e-9)


def test_taps_answer_a_sine_like_a_first_order_low_pass_with_a_delay() -> None:
    # H(f) = exp(-j 2 pi f t0) / (1 + j f / fc), the textbook first-order low-pass. Straight lines between samples are
    # wrong by at most h^2 max|x''| / 8 (error of linear interpolation), for a sine (2 pi f h)^2 / 8.
    delay_s, corner_hz = 45e-6, 5_000.0
    tau = 1 / (2 * np.pi * corner_hz)
    taps = filter_taps(delay_s, corner_hz, SAMPLE_S)
    for f in (50.0, 150.0, 700.0):
        got = (taps * np.exp(-2j * np.pi * f * SAMPLE_S * np.arange(len(taps)))).sum()
        expected = np.exp(-2j * np.pi * f * (delay_s - tau)) / (1 + 1j * f / corner_hz)
        assert abs(got / expected - 1) < (2 * np.pi * f * SAMPLE_S) ** 2 / 8


def test_a_delay_that_its_own_filter_cannot_keep_is_refused() -> None:
    with pytest.raises(ValueError, match="shorter"):
        filter_taps(5e-6, 15_000.0, SAMPLE_S)
    with pytest.raises(ValueError, match="too long"):
        filter_taps(0.1, None, SAMPLE_S)


def test_errors_of_many_boards_stay_inside_the_limits_and_use_them() -> None:
    channels = bench_motor("cabin_ventilator").channels
    gains, offsets, delays = [], [], []
    for seed in range(200):
        front_end = FrontEnd(channels, SAMPLE_S, np.random.default_rng(seed))
        gains.append(front_end.gain_errors[:, 0] / [channel.gain_limit for channel in channels])
        offsets.append(front_end.offset_error_codes[:, 0] / [channel.offset_limit_codes for channel in channels])
        nominal_s = np.array([channel.delay_ns for channel in channels]) * 1e-9
        delays.append((front_end.delays_s[:, 0] - nominal_s) / 1e-6)  # the bench's limit is one microsecond
    for drawn in (gains, offsets, delays):
        assert np.abs(drawn).max() <= 1.0 + 1e-9
        assert np.abs(drawn).max() > 0.95  # 800 even draws: a limit that is twice too wide would be missed otherwise
        assert abs(np.mean(drawn)) < 0.1


def test_noise_has_the_rms_that_the_description_states() -> None:
    channel = replace(CHANNEL, offset=0.0, noise_codes_rms=4.0, gain_limit=0.0, offset_limit_codes=0.0)
    codes = FrontEnd((channel,), SAMPLE_S, np.random.default_rng(1)).codes(np.full((1, 50_000), 0.3 * channel.scale))
    # Rounding adds a twelfth of a code squared (uniform distribution).
    assert codes.std() == pytest.approx(np.sqrt(4.0**2 + 1 / 12), rel=0.01)
    assert codes.mean() == pytest.approx(0.3, abs=0.08)


def test_a_gain_error_leaves_zero_volts_alone() -> None:
    channel = replace(CHANNEL, gain_limit=0.1)
    front_end = FrontEnd((channel,), SAMPLE_S, np.random.default_rng(3))
    zero, ten = front_end.codes(np.array([[0.0] * 4 + [10.0] * 4]))[[3, 7], 0]
    assert zero * channel.scale + channel.offset == pytest.approx(0.0, abs=0.006)
    measured = ten * channel.scale + channel.offset
    assert measured == pytest.approx(10.0 * (1 + front_end.gain_errors[0, 0]), abs=0.006)
    assert abs(measured - 10.0) > 0.05


def test_codes_do_not_depend_on_how_the_signal_was_cut() -> None:
    channels = bench_motor("cabin_ventilator").channels
    values = np.random.default_rng(5).uniform(-1, 1, (len(channels), 400))
    quiet = tuple(replace(channel, noise_codes_rms=0.0) for channel in channels)
    whole = FrontEnd(quiet, SAMPLE_S, np.random.default_rng(2)).codes(values)
    pieces = FrontEnd(quiet, SAMPLE_S, np.random.default_rng(2))
    cut = np.concatenate([pieces.codes(values[:, first:end]) for first, end in ((0, 1), (1, 1), (1, 7), (7, 400))])
    assert (whole == cut).all()
