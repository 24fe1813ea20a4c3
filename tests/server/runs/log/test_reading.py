"""What the marks in a hole of a log say of it."""

from pathlib import Path

import pytest

from server.runs.layout import Entry, Kind
from server.runs.log.marked import in_parts
from server.runs.log.reading import LogReader
from server.runs.log.taken import Taken
from server.runs.marks import CABLE_BACK, CABLE_OUT, STARTED, STOPPED
from tests.server.runs.log.logs import OPEN, Stepped, taken_at


@pytest.mark.parametrize(
    ("marks", "parts"),
    [
        ([(1.0, CABLE_OUT), (9.0, CABLE_BACK)], [(0.0, 10.0, CABLE_OUT)]),
        ([(1.0, STOPPED), (9.0, STARTED)], [(0.0, 10.0, STOPPED)]),
        ([(9.0, STARTED)], [(0.0, 10.0, STARTED)]),  # it was killed
        ([(5.0, STARTED), (9.0, CABLE_BACK)], [(0.0, 5.0, STARTED), (5.0, 10.0, CABLE_OUT)]),
        ([(1.0, CABLE_OUT), (4.0, STOPPED), (9.0, STARTED)], [(0.0, 4.0, CABLE_OUT), (4.0, 10.0, STOPPED)]),
        (
            [(1.0, CABLE_OUT), (4.0, STOPPED), (6.0, STARTED), (9.0, CABLE_BACK)],
            [(0.0, 4.0, CABLE_OUT), (4.0, 6.0, STOPPED), (6.0, 10.0, CABLE_OUT)],
        ),
    ],
)
def test_a_hole_is_told_in_parts_the_cable_apart_from_the_service(
    marks: list[tuple[float, str]], parts: list[tuple[float, float, str]]
) -> None:
    assert in_parts(0.0, 10.0, marks) == parts
    assert in_parts(0.0, None, marks)[-1][1] is None


@pytest.mark.parametrize(("out_s", "since_s"), [(3.05, 3.2), (3.3, 3.2)])
@pytest.mark.parametrize("back_s", [7.9, 8.5, None])
def test_a_hole_is_told_where_the_cable_was_pulled_in_the_middle_of_a_window_and_while_it_is_out(
    tmp_path: Path, out_s: float, since_s: float, back_s: float | None
) -> None:
    log = Stepped(tmp_path)
    log.begin()
    log.give(taken_at(1.0, instants=12), marked(CABLE_OUT, out_s))  # windows that end at 1.0, 1.2 ... 3.2 s
    if back_s is not None:
        log.give(taken_at(8.0, instants=5), marked(CABLE_BACK, back_s))
    log.close()
    with LogReader(tmp_path) as reader:
        holes = [each for each in reader.gaps(0.0, 1e11) if each[1] is None or each[1] - each[0] > 1.0]
    ((since, until, text),) = holes
    assert since - OPEN.utc_s == pytest.approx(since_s)
    assert text == CABLE_OUT
    assert until == (None if back_s is None else pytest.approx(OPEN.utc_s + 8.0))


def marked(text: str, at_s: float) -> Taken:
    return Taken(Entry(Kind.MARK, OPEN.utc_s + at_s, text.encode()), ())
