"""Harmonics from one transform, against sums over whole periods and against series in books."""

from math import pi, sqrt

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from server.signals import phasor_noise, phasors, transform
from tests.server.signals.slow import at_middle, rms_phasor, sampled, series, square, triangle

RATE, COUNT = 20_000.0, 4000


def read(values: NDArray[np.float64], hertz: float, orders: int, rate_hz: float = RATE) -> NDArray[np.complex128]:
    count = values.shape[0]
    found: NDArray[np.complex128] = phasors(transform(values[np.newaxis]), count, hertz * count / rate_hz, orders)[0]
    return found


def test_a_sine_of_1_v_rms_reads_1_at_its_own_angle() -> None:
    values = sampled(series({1: 1.0 + 0j}), 50.0, RATE, COUNT)
    assert read(values, 50.0, 3) == pytest.approx([1.0, 0.0, 0.0], abs=1e-12)  # 10 cycles: the middle is a peak too


@pytest.mark.parametrize("hertz", [47.3, 50.0, 50.3, 60.0, 61.9])
@pytest.mark.parametrize("count", [4000, 3999, 4001])
def test_harmonics_of_square_and_triangle_are_those_of_their_series(hertz: float, count: int) -> None:
    # 4 / (pi h) and 8 / (pi h)^2 for odd h; h3/h1 = 1/3, h5/h1 = 1/5 and 1/9, 1/25 (Bimbhra, examples 8.8 to 8.10).
    half = int(RATE / 2 / hertz)
    h = np.arange(1, 51)
    for wave, sizes in ((square(half), 4 / (pi * h)), (triangle(half), 8 / (pi * h) ** 2)):
        found = np.abs(read(sampled(wave, hertz, RATE, count, 0.137), hertz, 50)) * sqrt(2)
        truth = np.where(h % 2, sizes, 0.0)
        assert np.abs(found - truth).max() < 1e-4 * truth[0]


@pytest.mark.parametrize("hertz", [39.9, 40.05, 42.5, 47.6, 60.1])
def test_fifty_harmonics_at_once_are_told_apart_to_nine_digits(hertz: float) -> None:
    draw = np.random.default_rng(5)  # on both sides of 8 cycles in the window, where the way of solving changes
    truth = {k: complex(*draw.normal(0.0, 1.0, 2)) for k in range(1, 51)}
    found = read(sampled(series(truth), hertz, RATE, COUNT), hertz, 50)
    for k, phasor in truth.items():
        assert abs(found[k - 1] - at_middle(phasor, k, hertz, RATE, COUNT)) < 3e-10


def test_an_independent_sum_over_a_period_agrees_in_size_and_angle() -> None:
    wave = series({1: 3 - 1j, 2: 0.2j, 3: 0.5 + 0.5j, 7: -0.3 + 0.1j, 40: 0.01 + 0j, 50: 0.02j}, mean=1.5)
    hertz = 49.87
    found = read(sampled(wave, hertz, RATE, COUNT), hertz, 50)
    for order in (1, 2, 3, 4, 7, 40, 50):
        slow = at_middle(rms_phasor(wave, order), order, hertz, RATE, COUNT)
        assert found[order - 1] == pytest.approx(slow, abs=1e-9)


@settings(max_examples=30, deadline=None)
@example(1232.0, 200, 0.0, 0)  # its eighth order is within two lines of half the sample rate: not asked for
@given(st.floats(50.0, 2400.0), st.integers(200, 1500), st.floats(-5, 5), st.integers(0, 2**31))
def test_all_orders_are_separated_at_any_frequency_and_length(hertz: float, count: int, mean: float, seed: int) -> None:
    cycles = hertz * count / RATE
    if cycles < 2.0 or cycles > count / 8:
        return
    draw = np.random.default_rng(seed)
    orders = min(50, int((count // 2 - 2) / cycles))
    sizes = (draw.normal(size=orders) + 1j * draw.normal(size=orders)) / np.arange(1, orders + 1)
    wave = series({k + 1: complex(size) for k, size in enumerate(sizes)}, mean)
    found = read(sampled(wave, hertz, RATE, count), hertz, orders)
    truth = [at_middle(complex(size), k + 1, hertz, RATE, count) for k, size in enumerate(sizes)]
    # The very last lines below half the sample rate hold some of what lies mirrored beyond it.
    inside = np.arange(1, orders + 1) * cycles < count / 2 - 8
    assert found[inside] == pytest.approx(np.array(truth)[inside], abs=1e-4)
    assert found == pytest.approx(np.array(truth), abs=3e-3)


def test_rows_do_not_mix() -> None:
    one, other = sampled(square(60), 50.2, RATE, COUNT), sampled(triangle(60), 50.2, RATE, COUNT, 0.3)
    cycles = 50.2 * COUNT / RATE
    both = phasors(transform(np.vstack((one, other))), COUNT, cycles, 50)
    assert both[0] == pytest.approx(read(one, 50.2, 50), abs=1e-12)
    assert both[1] == pytest.approx(read(other, 50.2, 50), abs=1e-12)


@pytest.mark.parametrize("hertz", [22.6, 30.0, 45.0, 47.5, 50.0, 52.3, 60.0])
def test_noise_moves_a_phasor_by_what_is_said_of_it(hertz: float) -> None:
    noise = np.random.default_rng(6).standard_normal((600, COUNT))
    found = phasors(transform(noise), COUNT, hertz * COUNT / RATE, 1)[:, 0] * sqrt(COUNT)
    assert sqrt(np.mean(np.abs(found) ** 2) / 2) == pytest.approx(phasor_noise(hertz * COUNT / RATE), rel=0.08)
    assert phasor_noise(hertz * COUNT / RATE) < (1.23 if hertz > 40.0 else 1.5)
