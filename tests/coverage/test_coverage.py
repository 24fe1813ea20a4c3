"""Intervals hold the truth as often as they say: some measurements of each kind; more: `run.py prove coverage`."""

import numpy as np
import pytest

from server.readings import Reading, Uncertainty
from tests.coverage.cases import case
from tests.coverage.counting import NARROW, Count, Tally, Verdict, unjudged, verdicts
from tests.coverage.families import FAMILIES

CASES = {
    "mains": 120,
    "few cycles": 100,
    "rows made of others": 60,
    "harmonic groups": 60,
    "direct current": 60,
    "winding and constants": 100,
    "edges of a shaft": 400,
    "slip": 60,
    "speed without a sensor": 100,
    "two points": 40,
}


@pytest.mark.parametrize("name", FAMILIES)
def test_intervals_hold_the_truth_as_often_as_they_say(name: str) -> None:
    tally = Tally()
    for number in range(CASES[name]):
        tally.add(FAMILIES[name], 1, number)
    assert [verdict.row for verdict in verdicts(tally) if verdict.wrong] == []
    if name == "mains":
        assert unjudged(tally, CASES[name] // 12) == []
    assert len(unjudged(tally, 5)) <= len(tally.known) // 10  # of stretches and speeds that few motions have


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
