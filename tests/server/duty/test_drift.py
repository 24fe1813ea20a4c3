"""Drift from cycle to cycle: slope and test agree with an independent library, and chance is told as chance."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from server.duty.drift import FEWEST, POINTS_MAX, drift_of


@settings(max_examples=40, deadline=None)
@given(st.lists(st.floats(-1e6, 1e6).map(lambda x: round(x, 3)), min_size=FEWEST, max_size=60))
def test_any_values_give_the_slope_of_theil_and_an_interval_about_it(values: list[float]) -> None:
    found = drift_of(range(len(values)), values)
    assert found is not None
    assert found.slope == pytest.approx(stats.theilslopes(values).slope, rel=1e-9, abs=1e-9)
    assert found.low <= found.slope <= found.high
    assert 0.0 <= found.chance <= 1.0
    assert found.inflation >= 1.0


def test_without_correlation_slope_interval_and_chance_are_those_of_the_library() -> None:
    draw = np.random.default_rng(3)
    compared = 0
    for _ in range(40):
        y = draw.standard_normal(50) + 0.02 * np.arange(50)
        found = drift_of(range(50), y.tolist())
        assert found is not None
        if found.inflation > 1.0:  # noise that looks correlated
            continue
        compared += 1
        slope, _, low, high = stats.theilslopes(y)
        assert (found.slope, found.low, found.high) == pytest.approx((slope, low, high), rel=1e-9, abs=1e-12)
        kendall = stats.kendalltau(np.arange(50), y, method="asymptotic").pvalue  # without the correction by one
        steps = stats.binomtest(int((np.diff(y) > 0).sum()), 49).pvalue
        assert found.chance == pytest.approx(min(2.0 * min(kendall, steps), 1.0), rel=0.1, abs=0.03)
    assert compared >= 10


def test_a_walk_of_correlated_noise_is_rarely_called_a_drift_and_a_drift_is() -> None:
    draw, called, plain, held = np.random.default_rng(4), 0, 0, 0
    for _ in range(200):
        noise = np.empty(200)
        noise[0] = draw.standard_normal()
        for k in range(1, 200):
            noise[k] = 0.6 * noise[k - 1] + 0.8 * draw.standard_normal()
        found = drift_of(range(200), noise.tolist())
        drifting = drift_of(range(200), (noise + 0.05 * np.arange(200)).tolist())
        assert found is not None
        assert drifting is not None
        assert drifting.significant
        held += drifting.low <= 0.05 <= drifting.high
        called += found.significant
        plain += stats.kendalltau(np.arange(200), noise).pvalue < 0.01
    assert plain > 20  # a tenth and more, where correlation is not reckoned with
    assert called <= 10
    assert held >= 0.9 * 200  # of intervals of 95 %


def test_a_smooth_trend_that_is_no_straight_line_is_a_drift() -> None:
    found = drift_of(range(50), [2.0 + 0.001 * k**1.5 for k in range(50)])
    assert found is not None
    assert found.inflation > 10.0  # what a straight line leaves of it looks like a walk
    assert found.significant


def test_a_walk_that_leads_nowhere_is_rarely_called_a_drift() -> None:
    draw, called = np.random.default_rng(6), 0
    for _ in range(200):
        found = drift_of(range(200), np.cumsum(draw.standard_normal(200)).tolist())
        assert found is not None
        called += found.significant
    assert called <= 20


def test_values_that_are_all_equal_do_not_drift() -> None:
    found = drift_of(range(20), [4.0] * 20)
    assert found is not None
    assert (found.slope, found.chance, found.significant) == (0.0, 1.0, False)


def test_few_cycles_say_nothing_and_many_are_thinned() -> None:
    assert drift_of(range(FEWEST - 1), range(FEWEST - 1)) is None
    many = drift_of(range(10 * POINTS_MAX), [0.5 * k for k in range(10 * POINTS_MAX)])
    assert many is not None
    assert many.slope == pytest.approx(0.5)
    assert many.cycles == 10 * POINTS_MAX
