"""Symmetrical components: balanced sets, and the textbook of the method itself."""

from cmath import exp, pi

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.signals import sequence_components

A = exp(2j * pi / 3)
NUMBERS = st.complex_numbers(max_magnitude=1e3, allow_nan=False, allow_infinity=False)


def test_balanced_sets_have_one_component() -> None:
    # Definition of the three sets, Fortescue 1918: order 1 2 3, order 1 3 2, all alike.
    assert sequence_components(5, 5 * A**2, 5 * A) == pytest.approx((5, 0, 0), abs=1e-12)
    assert sequence_components(5, 5 * A, 5 * A**2) == pytest.approx((0, 5, 0), abs=1e-12)
    assert sequence_components(5, 5, 5) == pytest.approx((0, 0, 5), abs=1e-12)


def test_with_one_line_open_positive_and_negative_are_equal() -> None:
    positive, negative, zero = sequence_components(0, 3 + 1j, -3 - 1j)
    assert abs(positive) == pytest.approx(abs(negative))
    assert abs(zero) == pytest.approx(0.0, abs=1e-12)


@given(NUMBERS, NUMBERS, NUMBERS)
def test_the_components_add_up_to_the_lines_again(one: complex, two: complex, three: complex) -> None:
    positive, negative, zero = sequence_components(one, two, three)
    assert positive + negative + zero == pytest.approx(one, abs=1e-9)
    assert A**2 * positive + A * negative + zero == pytest.approx(two, abs=1e-9)
    assert A * positive + A**2 * negative + zero == pytest.approx(three, abs=1e-9)
