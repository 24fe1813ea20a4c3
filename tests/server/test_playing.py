"""A recorded run is played: it shows what the live service showed, stands still, goes to any place, and says so."""

import asyncio
import math
import time
from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import pytest

from server.calibration.chosen import Which
from server.live.bench import bench_record, rank_and_tag, shown_unasked
from server.live.kept_picture import between_points, kept_trace
from server.live.two_points import Snap
from server.live.view import View
from server.playing import Play
from server.runs.layout import Kind
from server.runs.library import Library
from server.runs.sum_up import summed_up
from tests.server.calibration.boards import BOARD, RUNNING, gained, text
from tests.server.runs.recordings import LASTS_S, OPENED_UTC_S, recorded_run, rewritten, segment_of
from tests.server.tiny_board import TinyBoard
from tests.server.until import until

LONG = ((1.0, 0.0, 0.0, 0.0), (0.4, 230.0, 1.5, 0.0), (48.6, 230.0, 0.5, 0.0), (10.0, 230.0, 0.7, 0.0))


@pytest.fixture
def library(tmp_path: Path) -> Iterator[Library]:
    made = Library(tmp_path / "runs")
    yield made
    made.close()


@asynccontextmanager
async def played(library: Library, name: str, digest: dict[str, Any] | None = None) -> AsyncIterator[Play]:
    summary = next(run for run in library.runs() if run.name == name)
    assert summary.closed_utc_s is not None
    play = Play(library.folder / name, summary, summary.closed_utc_s, digest, time.time)
    play.start()
    try:
        yield play
    finally:
        await play.stop()


@asynccontextmanager
async def played_at_47_s(library: Library, name: str, digest: dict[str, Any] | None) -> AsyncIterator[Play]:
    """It stands still at a place that is far from its beginning."""
    async with played(library, name, digest) as play:
        play.pause(True)
        play.go_to(OPENED_UTC_S + 47.0)
        await until(state_of(play)("paused"), 30.0)
        yield play


def state_of(play: Play) -> Callable[[str], Callable[[], bool]]:
    return lambda state: lambda: play.playing.state == state


def kinds(view: View) -> list[str]:
    return [each["kind"] for each in view.events]


def picture(play: Play) -> dict[str, Any]:
    return play.view.picture(time.time())


async def test_it_plays_to_its_end_at_the_pace_that_was_asked_for(library: Library) -> None:
    async with played(library, recorded_run(library)) as play:
        began_s = time.monotonic()
        play.at_pace(10.0)
        await until(state_of(play)("ended"), 10.0)
        assert time.monotonic() - began_s > 0.8 * LASTS_S / 10.0
        assert play.position_utc_s == pytest.approx(OPENED_UTC_S + LASTS_S, abs=0.2)
        assert "stalled" in kinds(play.view)
        assert play.view.motor.name == "test fan"


async def test_a_run_of_which_nothing_can_be_read_ends_with_what_and_where(library: Library) -> None:
    name = recorded_run(library)
    segment = segment_of(library, name)
    size = segment.stat().st_size
    async with played(library, name) as play:
        segment.write_bytes(bytes(size))
        await until(state_of(play)("ended"))
        said = f"nothing of the run could be read: 0001.run: {size} bytes from byte 0 on hold no record"
        assert picture(play)["playing"]["trouble"] == said


async def test_a_run_of_which_a_part_cannot_be_read_is_played_and_ends_with_what_and_where(library: Library) -> None:
    name = recorded_run(library)
    segment = segment_of(library, name)
    whole = segment.read_bytes()
    segment.write_bytes(whole[:20_000] + bytes(2000) + whole[22_000:])
    async with played(library, name) as play:
        play.at_pace(10.0)
        await until(state_of(play)("ended"), 10.0)
        said = picture(play)["playing"]["trouble"]
        assert said.startswith("2 parts of the run could not be read, the first: 0001.run: ")
        assert play.view.motor.name == "test fan"


async def test_a_picture_of_a_played_run_is_held_and_measured_at_the_runs_own_times(library: Library) -> None:
    async with played(library, recorded_run(library)) as play:
        play.go_to(OPENED_UTC_S + 3.5)
        await until(lambda: play.position_utc_s > OPENED_UTC_S + 3.5)
        seen = play.view.seen
        assert seen is not None
        kept = play.view.keeping.hold(seen)
        assert kept.start_utc_s + 2.0 == pytest.approx(OPENED_UTC_S + 3.6, abs=0.4)
        trace = kept_trace(kept, 1.9, 1.96, 300)
        channel = trace["lines"][0]["channel"]
        readings = between_points(kept, (1.9, channel, Snap.FREE), (1.96, channel, Snap.FREE))
        assert readings["time_s"]["value"] == pytest.approx(0.06)
        assert readings["voltage_rms_v"]["value"] == pytest.approx(230.0, rel=0.01)


async def test_a_picture_says_that_it_is_played_and_its_time_is_the_runs(library: Library) -> None:
    name = recorded_run(library)
    async with played(library, name) as play:
        play.go_to(OPENED_UTC_S + 3.5)
        await until(lambda: play.position_utc_s > OPENED_UTC_S + 3.5)
        said = picture(play)
        assert (said["playing"]["run"], said["playing"]["state"]) == (name, "playing")
        assert said["now_utc_s"] == pytest.approx(OPENED_UTC_S + 3.6, abs=0.3)
        assert said["connection"]["state"] == "live"
        assert said["readings"]["run_state"]["value"] == "running"
        assert said["recording"]["state"] == "none"
        assert said["readings"]["current_rms_a"]["value"] == pytest.approx(0.7, rel=0.02)


async def test_it_stands_still_and_its_readings_grow_no_older(library: Library) -> None:
    async with played(library, recorded_run(library)) as play:
        play.pause(True)
        play.go_to(OPENED_UTC_S + 3.0)
        await until(state_of(play)("paused"))
        before = picture(play)
        await asyncio.sleep(0.3)
        after = picture(play)
        assert after["now_utc_s"] == before["now_utc_s"]
        assert after["readings"] == before["readings"]
        play.pause(False)
        await until(lambda: play.position_utc_s > before["now_utc_s"] + 0.1)


async def test_slower_and_faster_change_what_passes_in_a_second_and_jump_nowhere(library: Library) -> None:
    async with played(library, recorded_run(library)) as play:
        await until(lambda: play.position_utc_s > OPENED_UTC_S + 0.3)
        play.at_pace(0.1)
        before_utc_s = play.position_utc_s
        await asyncio.sleep(0.4)
        assert 0.0 < play.position_utc_s - before_utc_s < 0.15


async def test_back_and_from_the_end_it_begins_anew(library: Library) -> None:
    async with played(library, recorded_run(library)) as play:
        play.go_to(OPENED_UTC_S + 8.9)
        await until(state_of(play)("ended"))
        jumps = play.playing.jumps
        play.go_to(OPENED_UTC_S + 2.0)
        await until(state_of(play)("playing"))
        assert play.playing.jumps == jumps + 1
        assert kinds(play.view) == ["running", "power_on"]
        play.go_to(OPENED_UTC_S + 8.9)
        await until(state_of(play)("ended"))
        play.pause(False)
        await until(lambda: play.playing.state == "playing" and play.position_utc_s < OPENED_UTC_S + 1.0)


async def test_a_place_beyond_the_run_is_its_end_or_beginning(library: Library) -> None:
    async with played(library, recorded_run(library)) as play:
        play.go_to(1e300)
        await until(state_of(play)("ended"))
        play.go_to(-1e300)
        await until(state_of(play)("playing"))
        assert play.position_utc_s < OPENED_UTC_S + 1.0


@pytest.mark.long
async def test_a_far_place_is_jumped_to_and_reads_the_same_as_when_all_was_played(library: Library) -> None:
    name = recorded_run(library, story=LONG, board=TinyBoard(inputs=()))
    digest = summed_up(library.folder / name)
    values = []
    for known in (digest, None):
        async with played_at_47_s(library, name, known) as play:
            said = picture(play)
            assert said["now_utc_s"] == pytest.approx(OPENED_UTC_S + 47.0, abs=0.1)
            values.append(
                {key: said["readings"][key]["value"] for key in ("current_rms_a", "voltage_rms_v", "run_state")}
            )
            assert kinds(play.view) == ["running", "power_on"]  # what had happened by then is there either way
    assert values[0] == values[1]
    assert values[0]["run_state"] == "running"


@pytest.mark.long
async def test_after_a_jump_each_event_is_told_once_whether_it_is_played_again_or_not(library: Library) -> None:
    """Switched on at 2 s and, after a rest, at 41 s, which is inside the ten seconds that are played again."""
    steps = ((2.0, 0.0, 0.0, 0.0), (0.4, 230.0, 1.5, 0.0), (8.6, 230.0, 0.5, 0.0), (30.0, 0.0, 0.0, 0.0))
    story = (*steps, (0.4, 230.0, 1.5, 0.0), (18.6, 230.0, 0.5, 0.0))
    name = recorded_run(library, story=story, board=TinyBoard(inputs=()))
    digest = summed_up(library.folder / name)
    told = []
    for known in (digest, None):
        async with played_at_47_s(library, name, known) as play:
            told.append(kinds(play.view))
    assert told[0] == told[1]
    assert told[0].count("power_on") == 2


async def test_what_cannot_be_read_is_told_and_the_rest_is_played(library: Library) -> None:
    name = recorded_run(library)
    segment = segment_of(library, name)
    data = bytearray(segment.read_bytes())
    data[len(data) // 3 : len(data) // 3 + 500] = b"x" * 500
    segment.write_bytes(data)
    async with played(library, name) as play:
        play.go_to(OPENED_UTC_S + 8.9)
        await until(state_of(play)("ended"))
        assert "unreadable" in kinds(play.view)
        assert "stalled" in kinds(play.view)


@pytest.mark.parametrize(
    "time_s", [float("nan"), *(pytest.param(each, marks=pytest.mark.long) for each in (1e300, 0.0))]
)
async def test_times_that_no_clock_tells_hold_up_nothing_and_are_not_shown(library: Library, time_s: float) -> None:
    name = recorded_run(library)
    rewritten(segment_of(library, name), lambda entry: time_s if entry.kind is Kind.CHUNK else entry.utc_s)
    async with played(library, name) as play:
        await until(state_of(play)("ended"), 10.0)
        said = picture(play)
        assert math.isfinite(said["now_utc_s"])
        assert all(math.isfinite(each["utc_s"]) for each in said["events"])


async def test_a_run_whose_files_are_gone_ends_with_the_reason(library: Library) -> None:
    name = recorded_run(library)
    summary = library.runs()[0]
    play = Play(library.folder / f"{name}-gone", summary, OPENED_UTC_S + 9.0, None, time.time)
    play.start()
    await until(state_of(play)("ended"))
    assert "No such file" in play.playing.trouble
    await play.stop()


async def test_no_caution_comes_of_what_is_played_and_nobody_is_shown_it_unasked(library: Library) -> None:
    async with played(library, recorded_run(library)) as play:
        play.go_to(OPENED_UTC_S + 5.0)
        await until(lambda: play.view.cycle.state == "stalled")
        assert rank_and_tag(play.view, time.time()) == (0, "")
        live = View("bench")
        assert shown_unasked([play.view, live], time.time()) is live
        assert shown_unasked([play.view], time.time()) is None
        lines = bench_record([play.view, live], time.time())
        assert [(each["name"], each["playing"]) for each in lines] == [("bench", ""), (play.name, play.name)]


def current_of(play: Play) -> float:
    value = picture(play)["readings"]["current_rms_a"]["value"]
    assert isinstance(value, float)
    return value


async def paused_behind(play: Play, jumps: int) -> int:
    """Wait until it has jumped once more and stands still; how often it has jumped."""
    await until(lambda: play.playing.jumps > jumps and play.playing.state == "paused")
    return play.playing.jumps


async def test_it_is_computed_with_the_calibration_of_its_time_with_todays_or_with_none(library: Library) -> None:
    """The board draws 1 A; then its gain was found to be 2 % off, today 5 %. A jump keeps the choice."""
    name = recorded_run(library, story=RUNNING, board=BOARD, calibrations={"T-1": text(gained(1.02))})
    async with played(library, name) as play:
        play.pause(True)
        play.go_to(OPENED_UTC_S + 3.0)
        await until(state_of(play)("paused"))
        assert (play.playing.calibration, play.playing.calibrated) == ("then", True)
        then_a, at_utc_s, jumps = current_of(play), play.position_utc_s, play.playing.jumps
        for which, instead, gain in ((Which.TODAY, {"T-1": gained(1.05)}, 1.05), (Which.NONE, {}, 1.0)):
            play.calibrate(which, instead)
            await until(lambda: play.playing.sought_utc_s is not None)
            assert play.playing.sought_utc_s == pytest.approx(at_utc_s, abs=0.06)  # told while all is computed anew
            jumps = await paused_behind(play, jumps)
            assert play.playing.calibration == which
            assert play.playing.calibrated is bool(instead)
            assert current_of(play) == pytest.approx(then_a * gain / 1.02, rel=1e-4)
            assert play.position_utc_s == pytest.approx(at_utc_s, abs=0.06)  # an entry of 50 ms
        play.go_to(OPENED_UTC_S + 2.0)
        await paused_behind(play, jumps)
        assert current_of(play) == pytest.approx(then_a / 1.02, rel=1e-4)
        play.calibrate(Which.NONE, {})
        assert picture(play)["playing"]["calibration"] == "none"
