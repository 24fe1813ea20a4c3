"""What readings may be off by, and lists, come back as they were put in; bytes that are none are refused."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.readings import Confidence, Reading, Uncertainty, absent, doubtful
from server.runs.log.margins import packed_lists, packed_margins, unpacked_lists, unpacked_margins
from tests.server.runs.log.test_packed import Texts

HALVES = st.floats(2.0**-30, 1e9)


@st.composite
def measured(draw: st.DrawFn) -> Reading:
    """A reading without an interval, with a symmetric one, or one that a bound cuts below."""
    value, half = draw(st.floats(-1e6, 1e6)), draw(HALVES)
    which = draw(st.sampled_from(("none", "whole", "cut", "gone")))
    if which == "gone":
        return absent("speed_rpm", "too slow")
    if which == "none":
        return Reading("speed_rpm", value)
    low = value - half if which == "whole" else value - half / 4.0
    return Reading("speed_rpm", value, uncertainty=Uncertainty(low, value + half, 2.0, ()))


@given(st.lists(st.lists(measured(), min_size=3, max_size=3), min_size=1, max_size=4))
def test_intervals_come_back_as_float32_and_the_ends_only_where_a_bound_cuts(rows: list[list[Reading]]) -> None:
    found = unpacked_margins(3, [packed_margins(row) for row in rows])
    for k, row in enumerate(rows):
        for n, reading in enumerate(row):
            its, value = reading.uncertainty, reading.value
            if its is None or not isinstance(value, float):
                assert np.isnan([found.half[k, n], found.below[k, n], found.above[k, n]]).all()
                continue
            assert found.half[k, n] == pytest.approx(its.half, rel=1e-7)
            symmetric = abs(its.high + its.low - 2.0 * value) <= 1e-6 * its.half
            assert np.isnan(found.below[k, n]) == np.isnan(found.above[k, n]) == symmetric
            if not symmetric:
                assert value - found.below[k, n] == pytest.approx(its.low, rel=1e-7, abs=1e-7 * its.half)
                assert value + found.above[k, n] == pytest.approx(its.high, rel=1e-7, abs=1e-7 * its.half)


def test_lists_come_back_with_their_trust_and_their_reasons() -> None:
    readings = [
        Reading("current_rms_a", 1.0),
        Reading("current_harmonics_a", (1.0, 0.25, 1e-3), place="U"),
        doubtful(Reading("current_harmonics_a", (), place="V"), "an edge may be missing"),
        absent("current_harmonics_a", "too small", "W"),
    ]
    texts = Texts()
    ids, data = packed_lists(readings, texts.number_of)
    assert ids == ("current_harmonics_a.U", "current_harmonics_a.V", "current_harmonics_a.W")
    assert unpacked_lists(ids, data, texts.text_of) == [
        (ids[0], (1.0, 0.25, float(np.float32(1e-3))), Confidence.GOOD, ""),
        (ids[1], (), Confidence.DOUBTFUL, "an edge may be missing"),
        (ids[2], None, Confidence.ABSENT, "too small"),
    ]


@given(st.binary(max_size=60), st.integers(1, 5))
def test_bytes_that_are_none_are_refused(data: bytes, count: int) -> None:
    ids = [f"q{k}" for k in range(count)]
    for read in (lambda: unpacked_margins(count, [data]), lambda: unpacked_lists(ids, data, lambda number: "")):
        try:
            read()
        except ValueError:
            continue
        assert len(data) >= count  # a mark each was there
