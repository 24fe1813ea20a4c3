"""The alarms of a rig that runs: what is kept over a start, what fails, whom it tells."""

import asyncio
import logging
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import cast

import pytest

from server import alarming as room
from server.alarming import Alarming
from server.alarms.engine import Act
from server.alarms.notice import Notice, Told
from server.all_alarms import AllAlarms
from server.config import AlarmSettings, Calling, RigSettings
from server.live.records import Recording, RecordingState
from server.live.view import View
from server.pipeline import Output
from server.readings import Event, Instant, Reading
from server.report.make import alarms_of
from server.rigs import Rigs
from server.runs.log.dated import Dated, add_dated
from tests.server.live.blocks import Sync

ZERO = 1_795_600_000.0


def stalled(board_s: float, word: str = "stalled") -> Output:
    """A window of a motor in that state."""
    instant = Instant(0, 0, board_s, 0.2, (Reading("run_state", word),))
    return Output(instants=(instant,), clock=Sync())  # type: ignore[arg-type]


class Desk:
    """An Alarming with what it told."""

    def __init__(self, file: Path | None, *alarms: AlarmSettings, calling: Calling | None = None) -> None:
        self.now_s = ZERO
        self.notices: list[Notice] = []
        settings = RigSettings("bench", alarms=alarms, calling=calling or Calling())
        self.alarming = Alarming(settings, file, lambda: self.now_s, self.notices.append, lambda: "20261125-1402-bench")
        self.alarming.load()

    def stall(self, *board_s: float, word: str = "stalled") -> None:
        for each in board_s or (1.0, 1.2, 1.4, 1.6, 1.8):
            self.now_s += 0.2
            self.alarming.take(stalled(each, word))


def test_alarms_and_acknowledgements_survive_a_start_and_no_number_is_used_twice(tmp_path: Path) -> None:
    file = tmp_path / "alarms" / "bench.json"
    before = Desk(file)
    before.stall()
    before.alarming.act(Act("acknowledge", "stalled", before.now_s, "on my way", "phone"))
    before.alarming.write()
    after = Desk(file)
    (alarm,) = after.alarming.standing()
    assert alarm["acknowledged"] == {"at_utc_s": before.now_s, "note": "on my way", "by": "phone"}
    assert [notice.kind for notice in after.alarming.told] == [Told.RAISED, Told.ACKNOWLEDGED]
    after.stall(1.0, 1.2, 1.4, 1.6, 1.8)
    assert after.notices == [], "it is told already"
    after.stall(2.0, 2.2, 2.4, 2.6, 2.8, word="resting")
    assert [notice.kind for notice in after.notices] == [Told.ENDED]
    numbers = [notice.number for notice in [*before.notices, *after.notices]]
    assert len(set(numbers)) == 3
    assert len({notice.id for notice in [*before.notices, *after.notices]}) == 1


@pytest.mark.parametrize("content", [b"", b"{}", b'{"state": 3}', b"\x00\xff", b'{"format":99,"state":{"number":1}}'])
def test_a_file_that_cannot_be_read_is_set_aside_and_all_is_watched(
    tmp_path: Path, content: bytes, caplog: pytest.LogCaptureFixture
) -> None:
    file = tmp_path / "bench.json"
    file.write_bytes(content)
    desk = Desk(file)
    assert (tmp_path / "bench.json.unreadable").read_bytes() == content
    assert "alarms of bench that stood are not known" in caplog.text
    desk.stall()
    assert [notice.kind for notice in desk.notices] == [Told.RAISED]


def test_a_disk_that_refuses_is_told_and_tried_again(tmp_path: Path) -> None:
    (tmp_path / "alarms").write_text("a file where the folder should be")
    desk = Desk(tmp_path / "alarms" / "bench.json")
    desk.stall()
    desk.alarming.write()
    assert desk.alarming.trouble.startswith("Alarms are not kept over a start of the service (")
    (tmp_path / "alarms").unlink()
    desk.alarming.write()
    assert desk.alarming.trouble == ""
    assert not desk.alarming.unkept
    assert (tmp_path / "alarms" / "bench.json").exists()


def test_a_mistake_of_ours_is_shown_as_long_as_it_lasts_and_logged_once(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    desk = Desk(None)

    def breaks(*_: object) -> None:
        raise ZeroDivisionError("ours")

    with monkeypatch.context() as patched:
        patched.setattr(room, "step", breaks)
        desk.stall()
    assert desk.alarming.trouble.startswith("Alarms are not watched, by a mistake of Slipring's")
    assert len([record for record in caplog.records if record.levelno == logging.ERROR]) == 1
    desk.stall(2.0, 2.2, 2.4, 2.6, 2.8)
    assert desk.alarming.trouble == ""
    assert [notice.kind for notice in desk.notices] == [Told.RAISED]


def test_a_notice_says_whom_to_call_in_which_run_and_until_when_it_waits() -> None:
    calling = Calling("phone, office", "office", "00:00", "23:59")
    dip = AlarmSettings("dip", "caution", "Look at the supply", event="voltage_dip")
    desk = Desk(None, dip, calling=calling)
    desk.stall()
    desk.alarming.take(Output(events=(Event("voltage_dip", 3.0, "Voltage dipped"),), clock=Sync()))  # type: ignore[arg-type]
    alarm, caution = desk.notices
    assert (alarm.receivers, alarm.not_before_utc_s, alarm.run) == (("phone", "office"), None, "20261125-1402-bench")
    assert caution.receivers == ("office",)
    assert caution.not_before_utc_s is not None
    assert caution.not_before_utc_s > caution.at_utc_s


def test_a_rig_that_is_no_more_ends_its_alarms(tmp_path: Path) -> None:
    desk = Desk(tmp_path / "bench.json")
    desk.stall()
    desk.alarming.write()
    desk.alarming.end("bench is not watched any more.")
    assert [notice.kind for notice in desk.notices] == [Told.RAISED, Told.ENDED]
    assert not (tmp_path / "bench.json").exists()


class _Recording:
    def __init__(self) -> None:
        self.kept: list[Dated] = []

    def keep(self, entry: Dated) -> bool:
        self.kept.append(entry)
        return True


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


async def watched(rigs: _Rigs, act: Callable[[AllAlarms], object]) -> list[Notice]:
    """What was told while all rigs were watched and this was done."""
    alarms, told = AllAlarms(cast(Rigs, rigs)), list[Notice]()
    alarms.heard.add(told.append)
    running = asyncio.create_task(alarms.run())
    while any(alarms.of(name) is None for name in list(dict(rigs))):
        await asyncio.sleep(0.01)
    act(alarms)
    await asyncio.sleep(0.6)
    running.cancel()
    await asyncio.gather(running, return_exceptions=True)
    return told


async def test_each_rig_is_followed_its_story_tells_it_and_the_others_go_on(tmp_path: Path) -> None:
    one, other = _Rig("one"), _Rig("other")

    def stall(alarms: AllAlarms) -> None:
        for k in range(5):
            one.view.take(stalled(1.0 + 0.2 * k), Sync())
        assert [its["rig"] for its in alarms.standing()["one"]] == ["one"]
        assert alarms.standing()["other"] == []

    told = await watched(_Rigs(tmp_path, one, other), stall)
    assert [(notice.rig, notice.kind) for notice in told] == [("one", Told.RAISED)]
    assert [(each["kind"], each["text"], each["detail"]) for each in one.view.events] == [
        ("alarm_raised", "Alarm raised: The motor is stalled", "Switch off")
    ]
    assert (tmp_path / "alarms" / "one.json").exists()
    assert not one.view.followers


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


async def test_settings_that_change_and_a_recording_that_fails_are_seen(tmp_path: Path) -> None:
    rig = _Rig("one")

    def change(alarms: AllAlarms) -> None:
        rig.settings = replace(rig.settings, alarms=(AlarmSettings("recording_failed", "alarm", "Look", hold_s=0.0),))
        rig.view.recorded = lambda: Recording(RecordingState.FAILED, reason="the disk is full")

    (notice,) = await watched(_Rigs(tmp_path, rig), change)
    assert (notice.act, "the disk is full" in notice.why) == ("Look", True)


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
