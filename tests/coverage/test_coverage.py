"""Intervals hold the truth as often as they say: some hundred measurements; ten thousand: `run.py prove coverage`."""

import numpy as np
import pytest

from server.readings import Reading, Uncertainty
from tests.coverage.cases import case
from tests.coverage.counting import NARROW, Count, Tally, Verdict, unjudged, verdicts


def test_intervals_of_voltages_currents_and_powers_hold_the_truth_as_often_as_they_say() -> None:
    tally = Tally()
    for number in range(600):
        tally.add(1, number)
    judged = [verdict for verdict in verdicts(tally) if verdict.count.intervals >= 100]
    assert unjudged(tally, 50) == []
    assert [verdict.row for verdict in judged if verdict.wrong] == []


def counted(halves: float) -> Verdict:
    """A thousand values with a scatter of 1 and intervals of so many standard deviations."""
    count = Count()
    for error in np.random.default_rng(2).normal(0.0, 1.0, 1000).tolist():
        parts = (("noise", 1.0),)
        count.take(Reading("x", error, uncertainty=Uncertainty(error - halves, error + halves, 1.96, parts)), 0.0)
    return Verdict("x", NARROW, count)


@pytest.mark.parametrize(("halves", "wrong"), [(1.96, False), (1.6, True), (2.6, True), (3.5, True)])
def test_intervals_that_are_too_narrow_or_too_wide_are_seen(halves: float, wrong: bool) -> None:
    assert counted(halves).wrong is wrong


def test_a_case_is_the_same_for_the_same_seed() -> None:
    one, other = (case(np.random.default_rng((3, 4)), True) for _ in range(2))
    assert one.truth == other.truth
    assert (one.window.values == other.window.values).all()
