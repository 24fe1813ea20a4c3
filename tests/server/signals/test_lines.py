"""Synchronous lines and their groups, against sums written out and against groups given in closed form."""

from math import pi, sqrt

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import zoom_fft

from server.signals import chirp_lines, groups_of, phasors, synchronous_lines, transform, without_harmonics

RATE, COUNT = 20_000.0, 4000
Parts = list[tuple[float, float, float]]  # frequency, RMS, angle


def wave(parts: Parts, rate_hz: float, count: int) -> NDArray[np.float64]:
    """The sum, its middle at time 0."""
    t = (np.arange(count) - count / 2) / rate_hz
    total = np.zeros(count)
    for hertz, rms, angle in parts:
        total += sqrt(2) * rms * np.cos(2 * pi * hertz * t + angle)
    return total


def lines(
    parts: Parts, hertz: float, per_order: int, rate_hz: float = RATE, count: int = COUNT
) -> NDArray[np.complex128]:
    spectrum, cycles = transform(wave(parts, rate_hz, count)[np.newaxis]), hertz * count / rate_hz
    return synchronous_lines(spectrum, count, cycles, phasors(spectrum, count, cycles, 50), per_order)


def by_the_definition(parts: Parts, hertz: float, per_order: int) -> NDArray[np.complex128]:
    """Lines of exactly `per_order` cycles about the middle, sampled in step with them: one sum for each."""
    points = per_order * 256
    turns = np.arange(points) / points
    values = wave(parts, 256 * hertz, points)
    sums = [np.sum(values * np.exp(-2j * pi * k * turns)) * sqrt(2) / points for k in range(50 * per_order + 8)]
    return np.array([sums])


# Six values in closed form from the definitions of groups: 12 cycles of 60 Hz, components as RMS (ours).
def test_groups_of_a_made_up_60_hz_signal_are_those_in_closed_form() -> None:
    parts = [(60.0, 120.0, 0.3), (295.0, 1.5, 1.0), (300.0, 6.0, 2.0), (330.0, 2.0, 0.1), (345.0, 2.5, 2.2)]
    found = lines(parts, 60.0, 12, 12_000.0, 2400)
    groups = groups_of(found, 12)
    assert groups.subgroup[0, 4] == pytest.approx(6.184658438, abs=1e-6)
    assert groups.group[0, 4] == pytest.approx(6.34428877, abs=1e-6)
    assert groups.between[0, 5] == pytest.approx(3.201562119, abs=1e-6)
    assert groups.between[0, 4] == pytest.approx(0.0, abs=1e-6)
    whole_gap = np.linalg.norm(found[0, 49:60])
    assert whole_gap == pytest.approx(1.5, abs=1e-6)  # the whole interharmonic group 4, from line 49 to 59
    assert abs(found[0, 60]) == pytest.approx(6.0, abs=1e-6)  # though the line beside it is as near as can be


@pytest.mark.parametrize("seed", range(12))
def test_lines_in_step_with_the_window_are_those_of_the_definition(seed: int) -> None:
    draw = np.random.default_rng(seed)
    hertz, per_order = ((50.0, 10), (60.0, 12), (55.0, 11), (45.0, 9))[seed % 4]
    parts: Parts = [(hertz * h, draw.exponential(1 / h), draw.uniform(0, 6)) for h in range(1, 51)]
    parts += [(hertz * draw.integers(1, 500) / per_order, draw.exponential(0.05), draw.uniform(0, 6)) for _ in range(8)]
    parts += [(draw.uniform(20, 2000), 0.01, draw.uniform(0, 6)) for _ in range(4)]
    slow = by_the_definition(parts, hertz, per_order)
    found = lines(parts, hertz, per_order)
    top = 50 * per_order + per_order // 2 - 1
    assert np.abs(found[0, 1:top]) == pytest.approx(np.abs(slow[0, 1:top]), abs=2e-4)


@pytest.mark.parametrize("hertz", [49.53, 49.97, 50.0, 50.03, 50.46, 59.42, 60.013, 60.55])
def test_beside_the_nominal_frequency_groups_are_near_those_of_the_definition(hertz: float) -> None:
    draw = np.random.default_rng(round(100 * hertz))
    per_order = 10 if hertz < 55 else 12
    parts: Parts = [(hertz * h, 10.0 / h, draw.uniform(0, 6)) for h in range(1, 51)]
    parts += [(hertz * (h + draw.uniform(0.25, 0.75)), 0.3, draw.uniform(0, 6)) for h in (1, 4, 7, 19, 33)]
    slow, found = by_the_definition(parts, hertz, per_order), lines(parts, hertz, per_order)
    one, other = groups_of(slow, per_order), groups_of(found, per_order)
    assert other.group == pytest.approx(one.group, rel=0.015)
    assert other.subgroup == pytest.approx(one.subgroup, rel=0.015)
    large = one.between[0] > 0.1
    assert large.sum() == 5
    assert other.between[0, large] == pytest.approx(one.between[0, large], rel=0.02)


def test_nothing_of_fifty_large_harmonics_is_left_between_them_at_any_frequency() -> None:
    draw = np.random.default_rng(3)
    for hertz in (47.3, 49.99, 50.0, 50.03, 50.4, 61.7):
        parts: Parts = [(hertz * h, 1.0, draw.uniform(0, 6)) for h in range(1, 51)]
        spectrum, cycles = transform(wave(parts, RATE, COUNT)[np.newaxis]), hertz * COUNT / RATE
        left = without_harmonics(spectrum, COUNT, cycles, phasors(spectrum, COUNT, cycles, 50), 700)
        assert np.abs(left).max() * sqrt(2) / COUNT < 2e-6


def test_the_chirp_transform_is_scipys() -> None:
    values = np.random.default_rng(1).normal(size=(3, 900))
    step, count = 0.973, 300
    theirs = zoom_fft(values, [0.0, step * count / 900], m=count, fs=1.0, axis=1)
    assert chirp_lines(values, step, count) == pytest.approx(theirs, abs=1e-10)


def test_noise_is_shared_out_among_the_lines_as_it_is() -> None:
    draw = np.random.default_rng(2)
    values = draw.normal(size=(40, COUNT)) + wave([(50.02, 3.0, 0.0)], RATE, COUNT)
    spectrum, cycles = transform(values), 50.02 * COUNT / RATE
    found = synchronous_lines(spectrum, COUNT, cycles, phasors(spectrum, COUNT, cycles, 50), 10)
    at = np.arange(20, 500)
    at = at[(at % 10 > 2) & (at % 10 < 8)]
    assert np.mean(np.abs(found[:, at]) ** 2) == pytest.approx(2.0 / COUNT, rel=0.03)  # of white noise, each line


def test_where_half_the_rate_comes_first_there_are_fewer_lines() -> None:
    parts: Parts = [(50.0, 1.0, 0.0), (250.0, 0.2, 1.0)]
    spectrum = transform(wave(parts, 2000.0, 400)[np.newaxis])
    orders = phasors(spectrum, 400, 10.0, 19)
    found = synchronous_lines(spectrum, 400, 10.0, orders, 10)
    assert found.shape[1] == 196
    assert groups_of(found, 10).subgroup[0, 4] == pytest.approx(0.2, abs=1e-7)
