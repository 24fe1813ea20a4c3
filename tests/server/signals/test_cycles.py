"""Means over whole cycles."""

from math import sqrt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.signals import Means, means, whole_cycles
from server.signals.cycles import Span
from tests.server.signals.slow import Wave, sampled, series

RATE, COUNT = 20_000.0, 4000
NO_PAIRS: tuple[list[int], list[int]] = ([], [])


def of_one(wave: Wave, hertz: float, rate_hz: float = RATE, start: float = 0.0) -> Means:
    count = round(rate_hz * 0.2)
    values = sampled(wave, hertz, rate_hz, count, start)[np.newaxis]
    return means(values, NO_PAIRS, whole_cycles(count, hertz * count / rate_hz))


def test_ten_cycles_of_10_06_take_3976_samples_in_the_middle_and_a_seventh() -> None:
    span = whole_cycles(COUNT, 10.06)
    assert (span.first, span.whole) == (12, 3976)
    assert span.over == pytest.approx(0.1431, abs=1e-4)


@pytest.mark.parametrize("cycles", [None, 0.3])
def test_where_there_is_no_whole_cycle_all_samples_count(cycles: float | None) -> None:
    assert whole_cycles(COUNT, cycles) == Span(0, COUNT)


def test_a_cycle_that_lacks_less_than_half_a_sample_counts_as_whole() -> None:
    span = whole_cycles(COUNT, 9.9995)
    assert span.whole == COUNT
    assert span.over == pytest.approx(0.2, abs=1e-3)
    assert whole_cycles(COUNT, 9.99).whole == pytest.approx(9 / 9.99 * COUNT, abs=1)


@settings(max_examples=80, deadline=None)
@given(st.floats(10.0, 2400.0), st.floats(0, 1), st.floats(-3, 3), st.floats(0, 1))
def test_rms_squares_add_up_whatever_frequency_and_phase(hertz: float, start: float, mean: float, third: float) -> None:
    # RMS^2 = mean^2 + sum of the squares of the orders: 50.3 Hz must not wobble with where its window begins. What is
    # left at the seam grows with the fourth power of the angle per sample, of the square's highest order.
    found = of_one(series({1: 2 + 0j, 3: third * 1j}, mean), hertz, start=start)
    angle = 2 * np.pi * hertz / RATE
    assert found.squares[0] == pytest.approx(mean**2 + 4 + third**2, rel=0.05 * min(1.0, (6 * angle) ** 4) + 1e-9)
    assert found.values[0] == pytest.approx(mean, abs=0.05 * min(1.0, (3 * angle) ** 4) + 1e-9)


@pytest.mark.parametrize("hertz", [45.0, 47.3, 49.98, 50.0, 55.5, 63.9, 66.0])
@pytest.mark.parametrize("start", [0.0, 0.1, 0.37])
def test_rms_of_mains_is_right_to_a_part_in_ten_million(hertz: float, start: float) -> None:
    sizes = {1: 230.0, 3: 7.0, 5: 14.0j, 7: -5.0, 11: 3.0, 13: 2j}
    rms = sqrt(sum(abs(size) ** 2 for size in sizes.values()))
    assert sqrt(of_one(series(sizes), hertz, start=start).squares[0]) == pytest.approx(rms, rel=1e-7)


def test_power_of_a_sine_pair_is_u_i_cos_phi() -> None:
    voltage = sampled(series({1: 230 + 0j}), 50.3, RATE, COUNT, 0.12)
    current = sampled(series({1: 0.5 * np.exp(-1j * np.pi / 3)}), 50.3, RATE, COUNT, 0.12)
    found = means(np.vstack((voltage, current)), ([0], [1]), whole_cycles(COUNT, 50.3 * 0.2))
    assert found.products == pytest.approx([230 * 0.5 * 0.5], rel=1e-8)


def test_a_direct_value_is_its_own_rms_and_mean() -> None:
    found = means(np.full((1, 100), -3.0), NO_PAIRS, Span(0, 100))
    assert (found.squares[0], found.values[0], found.products.size) == (9.0, -3.0, 0)
