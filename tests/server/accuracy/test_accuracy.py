"""The small twin of `run.py prove accuracy`: some hundred windows instead of a thousand a case."""

import pytest

from tests.server.accuracy.edges import edge_ratio
from tests.server.accuracy.trials import QUANTITIES, Case, ratios

WINDOWS = 250
ROOM = 1.18  # some hundred windows tell a ratio to 4 %


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
        assert 0.9 / ROOM < ratio < 1.3 * ROOM, what


def test_the_speed_of_edges_that_sit_off_their_places_is_within_1_3_times_the_bound_from_two_turns_on() -> None:
    for places, turns in ((1, 8), (6, 2), (24, 4)):
        assert 0.9 / ROOM < edge_ratio(places, turns, 20.0, WINDOWS, seed=1) < 1.3 * ROOM
