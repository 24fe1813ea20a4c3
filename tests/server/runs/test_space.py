"""What a plan keeps covers every event and each hour, and nothing outside a plan is ever given up."""

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from server.runs.space import (
    HOUR_S,
    Packed,
    Plan,
    given_up_bytes,
    is_kept,
    kept_spans,
    least_free,
    left_s,
    next_to_thin,
)

TIMES = st.floats(1.7e9, 1.7e9 + 20 * HOUR_S)
PLANS = st.builds(Plan, st.floats(0.0, 600.0), st.floats(1.0, HOUR_S))
SEGMENTS = st.lists(
    st.builds(
        Packed,
        run=st.sampled_from(("a", "b", "c")),
        name=st.sampled_from(("0001.packed", "0002.packed")),
        rig=st.sampled_from(("pump", "grinder")),
        from_utc_s=TIMES,
        to_utc_s=TIMES,
        bytes=st.integers(1, 10**8),
        thinned=st.booleans(),
    ),
    max_size=30,
)


@given(PLANS, st.lists(TIMES, max_size=20), st.lists(TIMES, min_size=1, max_size=200))
def test_what_is_kept_covers_every_event_and_the_first_of_each_hour(
    plan: Plan, moments: list[float], starts: list[float]
) -> None:
    spans = kept_spans(plan, moments, starts)
    for at_s in moments:
        for offset in (-plan.around_s, -plan.around_s / 2, 0.0, plan.around_s):
            assert is_kept(at_s + offset, at_s + offset, spans)
    for hour in {start // HOUR_S for start in starts}:
        first = min(start for start in starts if start // HOUR_S == hour)
        assert is_kept(first, first, spans)
        assert is_kept(first + plan.each_hour_s, first + plan.each_hour_s, spans)
    assert all(a[1] < b[0] for a, b in pairwise(spans))


@given(PLANS, st.lists(TIMES, max_size=20), TIMES, st.floats(0.0, 60.0))
def test_a_block_is_given_up_only_where_no_event_is_near_and_no_hour_begins(
    plan: Plan, moments: list[float], begin_s: float, length_s: float
) -> None:
    end_s = begin_s + length_s
    spans = kept_spans(plan, moments, [])
    near = any(begin_s <= at_s + plan.around_s and at_s - plan.around_s <= end_s for at_s in moments)
    assert is_kept(begin_s, end_s, spans) or not near


@given(SEGMENTS, st.floats(0.0, 1e9), st.booleans(), st.booleans())
def test_only_rigs_with_a_plan_give_up_anything_and_the_oldest_first(
    there: list[Packed], wanted_bytes: float, pump: bool, grinder: bool
) -> None:
    plan = Plan(30.0, 60.0)
    plans = {rig: plan for rig, agreed in (("pump", pump), ("grinder", grinder)) if agreed}
    chosen = next_to_thin(there, plans, wanted_bytes)
    may = [each for each in there if each.rig in plans and not each.thinned]
    assert all(each in may for each in chosen)
    assert len({each.run for each in chosen}) <= 1
    if chosen:
        assert chosen[0].from_utc_s == min(each.from_utc_s for each in may)
        assert sum(each.bytes for each in chosen[:-1]) < wanted_bytes
    elif wanted_bytes > 0:
        assert not may
    assert 0.0 <= given_up_bytes(there, plans) <= sum(each.bytes for each in may)
    if not plans:
        assert not chosen


def test_the_time_left_is_room_and_what_may_be_given_up_through_what_is_written() -> None:
    assert left_s(3e9, 1e9, 0.0, 1e6) == 2000.0
    assert left_s(3e9, 1e9, 1e9, 1e6) == 3000.0
    assert left_s(5e8, 1e9, 0.0, 1e6) == 0.0
    assert left_s(5e8, 1e9, 0.0, 0.0) is None
    assert least_free(10**12) == 10**9
    assert least_free(10**9) == 5 * 10**7
