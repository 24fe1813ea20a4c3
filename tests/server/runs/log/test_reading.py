"""What the marks in a hole of a log say of it."""

import pytest

from server.runs.log.reading import in_parts
from server.runs.marks import CABLE_BACK, CABLE_OUT, STARTED, STOPPED


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
