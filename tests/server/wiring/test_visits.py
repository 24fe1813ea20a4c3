"""Whole visits of the Hall states, and which of them may miss an edge."""

import numpy as np

from server.hall.tail import Tail
from server.wiring.visits import visits_of

TICKS = np.arange(100, 900, 100)
STATES = np.array([5, 1, 3, 2, 6, 4, 5, 1])


def test_behind_a_span_in_which_edges_may_be_missing_the_state_before_a_visit_is_not_known() -> None:
    tail = Tail(TICKS, STATES, 4, 0, 0)
    visits = visits_of(tail, None, ((350, 360), (600, 700)), 1e6)
    assert visits.before.tolist() == [4, 5, 1, 3, 2, 6, 4]
    assert visits.sure.tolist() == [True, True, False, False, False, False, False]


def test_an_edge_that_ends_such_a_span_is_known_itself() -> None:
    """Visits begin at 100, 200 and so on: that at 300 has a known end, and its state comes before that at 400."""
    visits = visits_of(Tail(TICKS, STATES, 4, 50, 0), None, ((-1, 50), (250, 300)), 1e6)
    assert visits.sure.tolist() == [True, False, False, True, True, True, True]
