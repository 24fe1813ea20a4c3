"""The small twin of the benchmark of a night's picture."""

import pytest

from tests.benchmarks.night_picture import measure

pytestmark = pytest.mark.alone


def test_a_night_is_drawn_from_its_log_about_as_fast_as_from_columns_in_memory() -> None:
    picture, asked = measure(pairs=1)
    assert picture.ratio <= 3 * picture.at_most, picture
    assert asked.ratio > 0.0  # how long it takes is measured by the command alone
