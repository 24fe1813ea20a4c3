"""What a test plan is told of the rig that is watched now, beside what its runs have to say."""

import pytest

from server.config import RigSettings
from server.live.view import View
from server.pipeline import Pipeline
from server.planning import uncounted
from tests.server.tiny_board import TinyBoard

STORY = ((70.0, 230.0, 0.5, 1400.0),)


@pytest.mark.parametrize(
    ("board", "lasts", "why"),
    [
        (TinyBoard(plate=""), STORY, "motor type not set"),
        (TinyBoard(plate=""), ((20.0, 230.0, 0.5, 1400.0),), ""),
        (TinyBoard(), STORY, ""),
    ],
    ids=["without a plate", "not for long", "with a plate"],
)
def test_where_no_run_state_is_known_for_a_while_nothing_counts_and_it_is_said_why(
    board: TinyBoard, lasts: tuple[tuple[float, float, float, float], ...], why: str
) -> None:
    view, pipeline = View("bench"), Pipeline(RigSettings("bench"))
    for part in pipeline.push(board.wire(lasts), 0.0).parts:
        view.take(part, part.clock)
    assert uncounted(view) == why
