"""A row of the log gives back the readings that it was made of; bytes that are none are refused."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.readings import Confidence, Reading, absent, doubtful
from server.runs.log.packed import packed, unpacked

TEXTS = st.text(min_size=1, max_size=20)
READINGS = st.builds(
    lambda key, place, value, doubt, gone: (
        absent(key, doubt or "gone", place)
        if gone
        else doubtful(Reading(key, value, place=place), doubt)
        if doubt
        else Reading(key, value, place=place)
    ),
    st.sampled_from(("current_rms_a", "run_state", "speed_rpm")),
    st.text(max_size=5),
    st.floats(allow_nan=False) | st.integers(-(2**53), 2**53) | TEXTS,
    st.text(max_size=9),
    st.booleans(),
)


class Texts(dict[str, int]):
    """Numbers of texts as a log gives them."""

    def number_of(self, text: str) -> int:
        return self.setdefault(text, len(self))

    def text_of(self, number: int) -> str:
        return list(self)[number]


@given(st.lists(READINGS, max_size=20))
def test_readings_come_back_as_they_were(readings: list[Reading]) -> None:
    texts = Texts()
    row = packed(readings, texts.number_of)
    assert unpacked(row.ids, row.data, texts.text_of) == readings
    assert len(row.data) == 9 * len(readings) + 4 * sum(each.confidence is not Confidence.GOOD for each in readings)


def test_lists_are_left_out_present_or_absent() -> None:
    readings = [
        Reading("current_harmonics_a", (1.0, 2.0)),
        Reading("current_rms_a", 1.0),
        absent("voltage_harmonics_v", "too small"),
    ]
    assert packed(readings, Texts().number_of).ids == ("current_rms_a",)


@given(st.binary(max_size=60), st.integers(0, 5))
def test_bytes_that_are_no_row_are_refused(data: bytes, count: int) -> None:
    ids = tuple(f"q{k}" for k in range(count))
    try:
        readings = unpacked(ids, data, lambda number: "a text")
    except ValueError:
        return
    assert [each.id for each in readings] == list(ids)


def test_a_mark_that_there_is_not_is_refused() -> None:
    with pytest.raises(ValueError, match="0 reasons do not fit"):
        unpacked(("a",), bytes(8) + b"\x03", str)
