"""A run is played faster than the PC can compute it."""

import asyncio
import time
from pathlib import Path

import pytest

from server.pipeline import Output
from server.runs.course import Course
from server.runs.layout import Entry
from server.runs.library import Library
from tests.server.runs.recordings import OPENED_UTC_S, recorded_run
from tests.server.test_playing import played


async def test_its_position_never_goes_back_where_the_pc_cannot_keep_the_pace(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    perform = Course.perform

    def slowly(course: Course, entry: Entry) -> Output | None:
        time.sleep(0.01)  # a fifth of what a chunk of 50 ms holds: five times its pace is reached
        return perform(course, entry)

    monkeypatch.setattr(Course, "perform", slowly)
    library = Library(tmp_path / "runs")
    async with played(library, recorded_run(library, story=((4.0, 230.0, 0.5, 0.0),))) as play:
        play.at_pace(100.0)
        seen = [play.position_utc_s]
        while play.playing.state != "ended":
            await asyncio.sleep(0.001)
            seen.append(play.position_utc_s)
        assert seen == sorted(seen)
        assert len(set(seen)) > 20  # and it is not told in a few leaps
        assert seen[-1] == pytest.approx(OPENED_UTC_S + 4.0, abs=0.2)
    library.close()
