"""Means over whole cycles."""

from math import sqrt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.signals import Span, mean_product, mean_squares, means, whole_cycles
from tests.server.signals.slow import sampled, series

RATE, COUNT = 20_000.0, 4000


def test_ten_cycles_of_10_06_take_3976_samples_and_a_seventh() -> None:
    span = whole_cycles(COUNT, 10.06)
    assert span.whole == 3976
    assert span.part == pytest.approx(0.1431, abs=1e-4)


@pytest.mark.parametrize("cycles", [None, 0.3])
def test_where_there_is_no_whole_cycle_all_samples_count(cycles: float | None) -> None:
    assert whole_cycles(COUNT, cycles) == Span(COUNT, 0.0)


def test_a_cycle_that_lacks_a_breath_counts_as_whole() -> None:
    assert whole_cycles(COUNT, 9.99995).whole == COUNT
    assert whole_cycles(COUNT, 9.99).whole == pytest.approx(9 / 9.99 * COUNT, abs=1)


@settings(max_examples=80, deadline=None)
@given(st.floats(10.0, 2400.0), st.floats(0, 1), st.floats(-3, 3), st.floats(0, 1))
def test_rms_squares_add_up_whatever_frequency_and_phase(hertz: float, start: float, mean: float, third: float) -> None:
    # RMS^2 = mean^2 + sum of the squares of the orders: 50.3 Hz must not wobble with where its window begins.
    wave = series({1: 2 + 0j, 3: third * 1j}, mean)
    values = sampled(wave, hertz, RATE, COUNT, start)[np.newaxis]
    span = whole_cycles(COUNT, hertz * COUNT / RATE)
    samples_a_cycle = RATE / hertz
    assert mean_squares(values, span)[0] == pytest.approx(mean**2 + 4 + third**2, rel=0.02 / samples_a_cycle + 1e-4)
    assert means(values, span)[0] == pytest.approx(mean, abs=0.02 / samples_a_cycle + 1e-4)


def test_power_of_a_sine_pair_is_u_i_cos_phi() -> None:
    voltage = sampled(series({1: 230 + 0j}), 50.3, RATE, COUNT, 0.12)
    current = sampled(series({1: 0.5 * np.exp(-1j * np.pi / 3)}), 50.3, RATE, COUNT, 0.12)
    span = whole_cycles(COUNT, 50.3 * 0.2)
    assert mean_product(voltage, current, span) == pytest.approx(230 * 0.5 * 0.5, rel=1e-5)


def test_a_direct_value_is_its_own_rms_and_mean() -> None:
    values = np.full((1, 100), -3.0)
    assert sqrt(mean_squares(values, Span(100, 0.0))[0]) == 3.0
    assert means(values, Span(100, 0.0))[0] == -3.0
