"""What a test plan is told of the rig that is watched now, beside what its runs have to say."""

import asyncio
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import cast

import pytest

from server.config import RigSettings
from server.live.records import Recording, RecordingState
from server.live.view import View
from server.pipeline import Pipeline
from server.plan_files import PlanFiles
from server.planning import Planning, uncounted
from server.rig import Rig
from server.rigs import Rigs
from server.test_plan.plan import Plan
from tests.server.tiny_board import TinyBoard

PLAN = Plan("fan", goal_hours=1.0)
STORY = ((70.0, 230.0, 0.5, 1400.0),)


@pytest.mark.parametrize(
    ("board", "lasts", "why"),
    [
        (TinyBoard(plate=""), STORY, "the run state is not known: motor type not set"),
        (TinyBoard(plate=""), ((20.0, 230.0, 0.5, 1400.0),), ""),
        (TinyBoard(), STORY, ""),
    ],
    ids=["without a plate", "not for long", "with a plate"],
)
def test_where_no_run_state_is_known_for_a_while_nothing_counts_and_it_is_said_why(
    board: TinyBoard, lasts: tuple[tuple[float, float, float, float], ...], why: str
) -> None:
    view, pipeline = View("bench"), Pipeline(RigSettings("bench"))
    for part in pipeline.push(board.wire(lasts), 1_795_615_320.0).parts:
        view.take(part, part.clock)
    newest_utc_s = view.sample_utc_s
    assert newest_utc_s is not None
    assert uncounted(view, PLAN, newest_utc_s) == why
    assert uncounted(view, PLAN, newest_utc_s + 61.0) == "no samples come from the board"


def test_before_a_test_begins_nothing_counts_and_neither_does_a_run_that_opened_then() -> None:
    def told(begins: float, now_utc_s: float, state: RecordingState = RecordingState.GAP) -> str:
        view = View("bench", recorded=lambda: Recording(state, run="r", since_utc_s=1000.0))
        return uncounted(view, replace(PLAN, begins=begins), now_utc_s)

    assert told(2000.0, 1999.0) == "the test begins at 1970-01-01 00:33:20 UTC"
    assert told(2000.0, 2001.0).startswith("the run that is recorded opened before the test begins; end it")
    assert told(2000.0, 2001.0, RecordingState.CLOSED) == "", "it has ended"
    assert told(1009.0, 2001.0) == "", "a run begins with what came just before its motor was switched on"


@pytest.mark.parametrize(
    ("begins", "state", "ended"),
    [
        ("2026-11-25T14:01:59Z", RecordingState.RECORDING, "r"),
        ("2026-11-25T14:01:59Z", RecordingState.CLOSED, ""),
        ("2026-11-25T13:00:00Z", RecordingState.RECORDING, ""),
        ("2026-11-25T20:00:00Z", RecordingState.RECORDING, ""),
        ("", RecordingState.RECORDING, ""),
    ],
    ids=["the run opened before", "and has ended", "it opened since", "the test begins later", "all runs count"],
)
def test_a_run_that_would_not_count_ends_as_the_plan_is_set(
    tmp_path: Path, begins: str, state: RecordingState, ended: str
) -> None:
    now_s = 1_795_615_320.0  # 14:02:00
    rigs = SimpleNamespace(plans=PlanFiles(tmp_path), utc_s=lambda: now_s)
    view = View("bench", recorded=lambda: Recording(state, run="r", since_utc_s=now_s - 60.0))
    rig = SimpleNamespace(name="bench", view=view, end_run=lambda: "r")
    text = '[test]\nspecimen = "one"\ngoal_hours = 1.0\n' + (f'begins = "{begins}"\n' if begins else "")
    planning = Planning(cast(Rigs, rigs))  # what is asked of them here
    assert asyncio.run(planning.set(cast(Rig, rig), text))[1] == ended
