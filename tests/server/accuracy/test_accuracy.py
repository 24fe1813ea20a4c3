"""The small twin of `run.py prove accuracy`: some windows instead of some hundred a case."""

import pytest

from tests.server.accuracy.edges import edge_ratio
from tests.server.accuracy.ripple import ripple_ratio
from tests.server.accuracy.trials import FREQUENCY, QUANTITIES, Case, ratios

WINDOWS = 60
WITHIN = 0.85, 1.4  # so many windows of eight pairs tell a ratio of 1 to 1.3 to 3 %,
FREQUENCY_WITHIN = 0.7, 1.6  # and that of the frequency, which is one a window, to 9 %


@pytest.mark.parametrize(
    "case",
    [
        Case(47.5, 40.0, "mains"),
        Case(50.0, 80.0, "rich"),
        Case(63.9, 60.0, "rich", 10_000.0),
        Case(52.5, 60.0, "mains", drift=0.1),
    ],
    ids=str,
)
def test_errors_are_within_1_3_times_the_bound_and_not_below_it(case: Case) -> None:
    found = ratios(case, WINDOWS, seed=1)
    assert set(found) == set(QUANTITIES)
    for what, ratio in found.items():
        least, most = FREQUENCY_WITHIN if what == FREQUENCY else WITHIN
        assert least < ratio < most, what


def test_the_speed_of_edges_that_sit_off_their_places_is_within_1_3_times_the_bound_from_two_turns_on() -> None:
    for places, turns in ((1, 8), (6, 2), (24, 4)):
        assert WITHIN[0] < edge_ratio(places, turns, 20.0, 5 * WINDOWS, seed=1) < WITHIN[1]


def test_the_speed_of_a_commutators_ripple_is_within_1_3_times_the_bound() -> None:
    least, most = FREQUENCY_WITHIN
    assert least < ripple_ratio(24, 25.0, 40.0, WINDOWS, seed=1) < most
