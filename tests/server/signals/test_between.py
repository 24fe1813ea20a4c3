"""Means between places that need not fall on samples, against integrals done by hand and by scipy."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.interpolate import interp1d

from server.signals import at, mean_between


@given(st.lists(st.floats(-5, 5), min_size=2, max_size=12), st.data())
def test_it_is_the_mean_of_the_straight_lines_between_the_samples(samples: list[float], data: st.DataObject) -> None:
    values = np.array(samples)
    first = data.draw(st.floats(0, len(samples) - 1.001))
    last = data.draw(st.floats(first + 0.0005, len(samples) - 1))
    line = interp1d(np.arange(values.size), values)
    knots = [first, *(k for k in range(values.size) if first < k < last), last]
    whole = sum(quad(line, a, b)[0] for a, b in pairwise(knots))  # each is a straight line
    mean = mean_between(values, first, last)
    assert mean.value == pytest.approx(whole / (last - first), abs=1e-6)
    assert mean.length == last - first
    assert mean.step == pytest.approx(at(values, last) - at(values, first), abs=1e-9)


@pytest.mark.parametrize(("first", "last"), [(3.2, 20.9), (0.0, 6.3), (5.4, 5.9), (2.0, 43.0)])
def test_what_straight_lines_leave_out_of_a_wave_is_within_what_is_told(first: float, last: float) -> None:
    step = 2 * np.pi / 40
    values = np.sin(step * np.arange(45))
    truth = (np.cos(step * first) - np.cos(step * last)) / (step * (last - first))
    mean = mean_between(values, first, last)
    assert abs(mean.value - truth) <= 1.5 * mean.left_out
    assert mean.left_out < 0.0025  # an eighth of the second difference of this sine is 0.0031


@pytest.mark.parametrize(("first", "last"), [(-0.1, 2.0), (2.0, 2.0), (1.0, 4.1)])
def test_what_is_no_stretch_is_refused(first: float, last: float) -> None:
    with pytest.raises(ValueError, match="no stretch"):
        mean_between(np.arange(5.0), first, last)
