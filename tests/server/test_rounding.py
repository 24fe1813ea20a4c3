"""Digits that ± allows, and angles that are written by them."""

from hypothesis import given
from hypothesis import strategies as st

from server.rounding import decimals_of, off_by
from server.wiring.figures import degrees_words


@given(st.floats(1e-9, 1e9))
def test_a_half_width_has_one_or_two_digits_and_is_cut_by_no_more_than_a_fiftieth(u95: float) -> None:
    """JCGM 100, 7.2.6: two digits at most; its examples (from memory) round 10.47 up to 11 and 28.05 down to 28."""
    decimals = decimals_of(u95, 20)
    written = off_by(u95, decimals)
    assert 1 <= round(written * 10.0**decimals) <= 30
    assert 0.98 * u95 <= written * (1.0 + 1e-9)
    assert written <= 1.34 * u95
    assert [off_by(each, decimals_of(each, 9)) for each in (10.47, 28.05)] == [11, 28]


def test_digits_of_an_angle_end_where_its_uncertainty_ends() -> None:
    assert degrees_words(0.031, 1.0234) == "+1.02 ± 0.04 degrees"
    assert degrees_words(0.004, 1.0234) == "+1.02 ± 0.01 degrees"  # no more than a digit above those of such angles
    assert degrees_words(2.3, -14.96, 3.02) == "-15.0 to +3.0 ± 2.3 degrees"
    assert degrees_words(41.0, -63.0) == "-60 ± 50 degrees"
