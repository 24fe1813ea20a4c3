"""What differs between two runs: only what is beyond both uncertainties, the largest first; the rest says why not."""

from math import hypot

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.comparison.differences import Difference, differences, figures_at
from server.duty.cycle import KEYS, Begun, Bound, Cycle, Figure
from server.duty.table import cycle_record

VALUES = st.floats(0.01, 1e4)
HALVES = st.floats(1e-6, 1e3)


def found(older: Figure, newer: Figure, key: str = "starting_time_s") -> Difference:
    (one,) = differences({key: older}, {key: newer})
    return one


@given(VALUES, HALVES, VALUES, HALVES)
def test_two_values_differ_beyond_the_root_of_the_summed_squares_and_not_within(
    older: float, off: float, newer: float, its: float
) -> None:
    """JCGM 100:2008, 5.1.2 (from memory): of a difference of independent values the squares add."""
    one, back = found(Figure(older, off), Figure(newer, its)), found(Figure(newer, its), Figure(older, off))
    assert one.half == pytest.approx(hypot(off, its))
    assert (one.outcome == "differs") == (abs(newer - older) > hypot(off, its)) == (back.outcome == "differs")
    assert one.change == pytest.approx(newer - older)
    assert one.share == pytest.approx(100.0 * (newer - older) / older)


def test_the_largest_share_comes_first_then_what_is_absent_then_what_is_alike() -> None:
    older = {
        "starting_time_s": Figure(0.90, 0.016),
        "steady_current_a": Figure(2.02, 0.01),
        "steady_speed_rpm": Figure(2975.0, 2.0),
        "coasting_time_s": Figure(20.0, 0.1),
        "switch_s": Figure(0.67, 0.016),
        "power_w": Figure(123.0, 1.0),
    }
    newer = {
        "starting_time_s": Figure(1.06, 0.016),
        "steady_current_a": Figure(2.021, 0.01),
        "steady_speed_rpm": Figure(2970.0, 2.0),
        "coasting_time_s": Figure(None, reason="its current has not ended"),
        "switch_s": Figure(0.78, 0.016),
        "power_w": Figure(136.0, 1.0),
    }
    told = [(each.kind.key, each.outcome) for each in differences(older, newer)]
    differs = ("starting_time_s", "switch_s", "power_w", "steady_speed_rpm")
    assert told[:4] == [(key, "differs") for key in differs]
    assert told[4:] == [("coasting_time_s", "absent"), ("steady_current_a", "alike")]


@pytest.mark.parametrize(
    ("figure", "why"),
    [
        (Figure(2.0), "its ± is not known"),
        (Figure(2.0, None, "its start was not seen"), "its start was not seen"),
        (Figure(2.0, 0.1, "clipped", Bound.LEAST), "clipped"),
        (Figure(2.0, 0.1, "", Bound.MOST), "it is at most that"),
    ],
)
def test_a_bound_or_a_value_without_its_interval_is_never_told_as_a_difference(figure: Figure, why: str) -> None:
    for one in (found(figure, Figure(9.0, 0.1)), found(Figure(9.0, 0.1), figure)):
        assert (one.outcome, one.why) == ("unknown", why)


def test_what_neither_run_has_is_left_out() -> None:
    nothing = {"coasting_time_s": Figure(None, reason="no shaft sensor")}
    assert differences(nothing, nothing) == []
    assert differences({"power_w": Figure(1.0, 0.1)}, {}) == []


def test_figures_are_those_of_the_cycle_that_the_moment_begins_or_lies_in() -> None:
    def told(number: int, utc_s: float) -> dict[str, object]:
        figures = {key: Figure(float(number), 0.1) for key in KEYS}
        return cycle_record(Cycle(number, utc_s, Begun.SEEN, figures), utc_s)

    evidence = {"duty": {"table": [told(1, 100.0), told(2, 200.0)], "under_way": told(3, 300.0)}}
    numbers = [figures_at(evidence, at)["energy_wh"].value for at in (99.8, 150.0, 199.9, 500.0)]
    assert numbers == [1.0, 1.0, 2.0, 3.0]
    assert figures_at(evidence, 50.0) == {}
    evidence["duty"]["under_way"] = told(9, 900.0)  # 3 to 8 are not kept
    assert figures_at(evidence, 150.0)["energy_wh"].value == 1.0
    assert figures_at(evidence, 500.0) == {}
    assert figures_at(evidence, 950.0)["energy_wh"].value == 9.0
    assert figures_at({}, 50.0) == {}
