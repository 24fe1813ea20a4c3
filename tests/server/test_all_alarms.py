"""The alarms of all rigs: who is followed, what is kept with which run, what one rig's failure leaves alone."""

import asyncio
from collections.abc import Awaitable, Callable
from dataclasses import replace
from pathlib import Path
from typing import TypeAlias, cast

import pytest

from server import all_alarms as room
from server.alarms.engine import Act
from server.alarms.notice import Notice, Told
from server.alarms.seen import PlanOutcome
from server.all_alarms import AllAlarms
from server.config import AlarmSettings, ConfigError, Plate, RigSettings
from server.live.records import Recording, RecordingState, Shown
from server.live.view import View
from server.pipeline import Output
from server.readings import Instant, Reading
from server.report.make import alarms_of
from server.rig import Rig
from server.rigs import Rigs
from server.runs.log.dated import Dated, add_dated, read_dated
from tests.server.live.blocks import Sync
from tests.server.test_alarming import ZERO, stalled


class _Recording:
    def __init__(self) -> None:
        self.kept: list[Dated] = []
        self.is_open = True
        self.awaited = ""

    def keep(self, entry: Dated) -> bool:
        self.kept += [entry] if self.is_open else []
        return self.is_open


class _Rig:
    """What is asked of a rig."""

    def __init__(self, name: str) -> None:
        self.name, self.demo, self.settings = name, False, RigSettings(name)
        self.view = View(name)
        self.recording: _Recording | None = None


class _Rigs(dict[str, _Rig]):
    def __init__(self, data: Path, *rigs: _Rig) -> None:
        super().__init__({rig.name: rig for rig in rigs})
        self.data = data

    def __iter__(self):  # type: ignore[no-untyped-def]
        return iter(list(self.values()))

    def utc_s(self) -> float:
        return ZERO


Look: TypeAlias = Callable[[Rig], Awaitable[PlanOutcome | None]]


async def watched(rigs: _Rigs, act: Callable[[AllAlarms], object], tested: Look | None = None) -> list[Notice]:
    """What was told while all rigs were watched and this was done."""
    alarms, told = AllAlarms(cast(Rigs, rigs), tested), list[Notice]()
    alarms.heard.add(told.append)
    running = asyncio.create_task(alarms.run())
    async with asyncio.timeout(5.0):
        while any(alarms.of(name) is None for name in list(dict(rigs))):
            await asyncio.sleep(0.01)
    act(alarms)
    await asyncio.sleep(0.6)
    running.cancel()
    await asyncio.gather(running, return_exceptions=True)
    return told


async def test_each_rig_is_followed_by_its_own_plate_its_story_tells_it_and_the_others_go_on(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    one, other, bad = _Rig("one"), _Rig("other"), _Rig("bad")

    def breaks() -> Recording:
        raise ZeroDivisionError("ours")

    bad.view.recorded = breaks
    other.settings = replace(other.settings, alarms=(AlarmSettings("overloaded"),))
    other.view.motor = Shown(plate=Plate(current_a=0.01))
    hot = Instant(0, 0, 1.0, 1.0, (Reading("current_rms_a", 1.0),))
    heats = Output(instants=(hot,), clock=Sync())  # type: ignore[arg-type]  # it is asked for utc_s alone

    def stall(alarms: AllAlarms) -> None:
        for k in range(5):
            one.view.take(stalled(1.0 + 0.2 * k), Sync())
        assert [its["rig"] for its in alarms.standing()["one"]] == ["one"]
        assert alarms.standing()["other"] == []
        other.view.take(heats, Sync())
        assert [its["name"] for its in alarms.standing()["other"]] == ["overloaded"]

    told = await watched(_Rigs(tmp_path, bad, one, other), stall)
    assert caplog.text.count("A look at the alarms of bad failed") == 1
    assert [(notice.rig, notice.kind) for notice in told] == [("one", Told.RAISED), ("other", Told.RAISED)]
    assert [(each["kind"], each["text"], each["detail"]) for each in one.view.events] == [
        ("alarm_raised", "Alarm raised: The motor is stalled", "Switch off")
    ]
    assert (tmp_path / "alarms" / "one.json").exists()
    assert not one.view.followers


async def test_a_test_that_fails_is_told_and_a_plan_that_cannot_be_read_then_leaves_it_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setattr(room, "PLAN_LOOK_S", 0.01)
    looks, room_of = 0, list[AllAlarms]()

    async def tested(rig: Rig) -> PlanOutcome:
        nonlocal looks
        looks += 1
        if looks > 3:
            raise ConfigError("one.toml", 3, "there is no such key", "remove it")
        return PlanOutcome("fail", "current was above 5 A in cycle 4")

    (notice,) = await watched(_Rigs(tmp_path, _Rig("one")), room_of.append, tested)
    said = "Its test is not judged, and stands as it did: one.toml, line 3: there is no such key; remove it."
    assert room_of[0].troubles() == {"one": said}
    assert [each.message for each in caplog.records].count(f"one: {said}") == 1, "once, however often it is looked at"
    assert (notice.kind, notice.act, looks > 3) == (Told.RAISED, "Look at the motor, then at its test", True)


async def test_each_change_is_kept_with_the_run_and_read_back_and_who_fails_to_hear_keeps_nobody_from_it(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    rig, run = _Rig("one"), tmp_path / "20261125-1402-one"
    rig.recording = _Recording()
    run.mkdir()

    def stall(alarms: AllAlarms) -> None:
        alarms.heard.add(lambda notice: 1 / 0)
        for k in range(5):
            rig.view.take(stalled(1.0 + 0.2 * k), Sync())

    (notice,) = await watched(_Rigs(tmp_path, rig), stall)
    (entry,) = rig.recording.kept
    add_dated(run, entry)
    assert alarms_of(run, "one") == (notice,)
    assert "An alarm could not be sent on." in caplog.text


async def test_what_is_told_while_no_run_is_open_is_added_to_the_run_in_which_it_was_raised(tmp_path: Path) -> None:
    """The motor stalls at night, its run closes by rest, and somebody acknowledges it in the morning."""
    rig, run = _Rig("one"), tmp_path / "runs" / "20261125-1402-one"
    rig.recording, rig.view.recorded = _Recording(), lambda: Recording(run=run.name)
    run.parent.mkdir()
    run.write_text("a file where the folder should be")

    def stall(alarms: AllAlarms) -> None:
        for k in range(5):
            rig.view.take(stalled(1.0 + 0.2 * k), Sync())
        assert rig.recording is not None
        rig.recording.is_open, rig.view.recorded = False, Recording
        tasks.append(asyncio.create_task(alarms.act("one", Act("acknowledge", "stalled", ZERO, "bearing seized"))))
        asyncio.get_running_loop().call_later(0.3, mend)

    def mend() -> None:
        run.unlink()
        run.mkdir()

    tasks = list[asyncio.Task[bool]]()
    told = await watched(_Rigs(tmp_path, rig), stall)
    assert await tasks[0]
    assert [(each.kind, each.run) for each in told] == [(Told.RAISED, run.name), (Told.ACKNOWLEDGED, run.name)]
    (entry,) = read_dated(run)
    assert (entry.said["kind"], entry.said["note"]) == ("acknowledged", "bearing seized")


@pytest.mark.parametrize(("closed_s_ago", "is_of_it"), [(59.0, True), (61.0, False)])
async def test_what_is_raised_long_after_a_run_has_closed_is_not_of_it(
    tmp_path: Path, closed_s_ago: float, is_of_it: bool
) -> None:
    """The motor rests, its run has closed, and no other one has begun."""
    rig, run = _Rig("one"), tmp_path / "runs" / "20261125-1402-one"
    rig.view.recorded = lambda: Recording(RecordingState.CLOSED, ZERO - closed_s_ago, run=run.name)
    run.mkdir(parents=True)

    def stall(alarms: AllAlarms) -> None:
        for k in range(5):
            rig.view.take(stalled(1.0 + 0.2 * k), Sync())

    (notice,) = await watched(_Rigs(tmp_path, rig), stall)
    assert (notice.run, len(list(read_dated(run)))) == (run.name * is_of_it, is_of_it)


async def test_what_is_told_while_a_later_run_is_open_is_kept_with_both(tmp_path: Path) -> None:
    rig, run = _Rig("one"), tmp_path / "runs" / "20261125-1402-one"
    rig.recording, rig.view.recorded = _Recording(), lambda: Recording(run=run.name)
    run.mkdir(parents=True)

    def stall(alarms: AllAlarms) -> None:
        for k in range(5):
            rig.view.take(stalled(1.0 + 0.2 * k), Sync())
        rig.view.recorded = lambda: Recording(run="20261126-0700-one")
        tasks.append(asyncio.create_task(alarms.act("one", Act("acknowledge", "stalled", ZERO, "bearing seized"))))

    tasks = list[asyncio.Task[bool]]()
    await watched(_Rigs(tmp_path, rig), stall)
    assert await tasks[0]
    assert [entry.said["kind"] for entry in rig.recording.kept] == ["raised", "acknowledged"]
    assert [entry.said["kind"] for entry in read_dated(run)] == ["acknowledged"]


@pytest.mark.parametrize("has_folder", [True, False])
async def test_what_the_open_run_has_no_room_for_is_added_to_it_or_told(
    has_folder: bool, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    rig, run = _Rig("one"), tmp_path / "runs" / "20261125-1402-one"
    rig.recording = _Recording()
    rig.recording.is_open = False
    rig.view.recorded = lambda: Recording(RecordingState.RECORDING, run=run.name if has_folder else "")
    run.mkdir(parents=True)

    def stall(alarms: AllAlarms) -> None:
        for k in range(5):
            rig.view.take(stalled(1.0 + 0.2 * k), Sync())

    await watched(_Rigs(tmp_path, rig), stall)
    assert len(read_dated(run)) == has_folder
    assert ("Alarms are not kept with the run of one that begins" in caplog.text) == (not has_folder)


async def test_what_comes_while_the_board_of_a_run_that_was_left_open_is_waited_for_is_kept_with_that_run(
    tmp_path: Path,
) -> None:
    rig, run = _Rig("one"), tmp_path / "runs" / "20261125-1402-one"
    rig.recording = _Recording()
    rig.recording.is_open, rig.recording.awaited = False, run.name
    run.mkdir(parents=True)

    def stall(alarms: AllAlarms) -> None:
        for k in range(5):
            rig.view.take(stalled(1.0 + 0.2 * k), Sync())

    (told,) = await watched(_Rigs(tmp_path, rig), stall)
    assert (told.run, [each.said["id"] for each in read_dated(run)]) == (run.name, [told.id])


async def test_settings_that_change_and_a_recording_that_fails_are_seen(tmp_path: Path) -> None:
    rig = _Rig("one")

    def change(alarms: AllAlarms) -> None:
        named = [AlarmSettings(name, "alarm", name, hold_s=0.0) for name in ("recording_failed", "disk_nearly_full")]
        rig.settings = replace(rig.settings, alarms=tuple(named))
        rig.view.recorded = lambda: Recording(RecordingState.FAILED, reason="the disk is full", room_s=60.0)

    def close(alarms: AllAlarms) -> None:
        change(alarms)
        rig.view.recorded = lambda: Recording(RecordingState.CLOSED, room_s=60.0)

    assert await watched(_Rigs(tmp_path / "closed", rig), close) == [], "nothing is recorded that lacks room"
    told = {notice.act: notice.why for notice in await watched(_Rigs(tmp_path, rig), change)}
    assert "the disk is full" in told["recording_failed"]
    assert "room for 1 min" in told["disk_nearly_full"]


async def test_a_rig_that_is_removed_ends_what_stood(tmp_path: Path) -> None:
    rig = _Rig("one")
    rigs = _Rigs(tmp_path, rig)

    def remove(alarms: AllAlarms) -> None:
        for k in range(5):
            rig.view.take(stalled(1.0 + 0.2 * k), Sync())
        del rigs["one"]

    told = await watched(rigs, remove)
    assert [notice.kind for notice in told] == [Told.RAISED, Told.ENDED]
    assert not rig.view.followers
