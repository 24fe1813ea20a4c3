"""Rigs of the demo bench: software boards that are started, several at once, end, and are stopped."""

import asyncio
import os
import signal
import threading
from collections.abc import AsyncIterator, Callable
from pathlib import Path

import pytest

from server import demo_board
from server.config import ConfigError, RigSettings
from server.demo_board import DemoBoard, DemoBoardError, RefusedSettingError
from server.demo_rigs import Played, demo_name
from server.live.records import Connection, ConnectionState
from server.readings import Event
from server.rigs import Rigs

pytestmark = pytest.mark.alone


async def until(happened: Callable[[], object], within_s: float = 3.0) -> None:
    async with asyncio.timeout(within_s):
        while not happened():
            await asyncio.sleep(0.01)


@pytest.fixture
async def bench(tmp_path: Path) -> AsyncIterator[Rigs]:
    made = Rigs(tmp_path)
    yield made
    await made.stop()


def test_the_first_two_have_their_names_and_others_the_next_free() -> None:
    assert demo_name(Played("tender_thruster"), ()) == "heron-2"
    assert demo_name(Played("tender_thruster", "reversal"), ()) == "heron-3"
    assert demo_name(Played("tender_thruster", pace=2.0), ("heron-3",)) == "heron-4"
    assert demo_name(Played("cabin_ventilator"), ("heron-1", "heron-3")) == "heron-4"


async def test_demo_motors_run_on_rigs_of_their_own_and_write_no_settings(bench: Rigs, tmp_path: Path) -> None:
    first = await bench.start_demo("cabin_ventilator")
    assert (first.name, first.demo) == ("heron-1", True)
    assert first.view.connection.state is ConnectionState.CONNECTING
    assert first.view.connection.text == "Starting the software board cabin ventilator"
    await until(lambda: first.view.motor.name == "cabin ventilator", 30)
    assert bench.demos() == {"heron-1": Played("cabin_ventilator")}
    assert await bench.start_demo("cabin_ventilator") is first
    with pytest.raises(ConfigError, match="heron-1 is a demo rig and keeps no settings"):
        await bench.change("heron-1", RigSettings("heron-1"))
    await bench.stop_demo("heron-1")
    assert list(bench) == []
    with pytest.raises(KeyError):
        await bench.stop_demo("heron-1")
    assert not (tmp_path / "rigs").exists()


async def test_a_motor_that_is_not_on_the_bench_is_refused_by_name(bench: Rigs) -> None:
    with pytest.raises(ValueError, match="There is no demo motor lathee; the nearest is lathe"):
        await bench.start_demo("lathee")
    with pytest.raises(ValueError, match='The demo motor lathe has no story "weak feld"; the nearest is weak field'):
        await bench.start_demo("lathe", "weak feld")
    assert list(bench) == []


async def test_several_boards_play_at_once_two_of_them_the_same_motor(bench: Rigs) -> None:
    story = await bench.start_demo("cabin_ventilator", "stall and release")
    other = await bench.start_demo("bilge_pump")
    all_in_turn = await bench.start_demo("cabin_ventilator")
    assert [rig.name for rig in (story, other, all_in_turn)] == ["heron-3", "heron-4", "heron-1"]
    assert await bench.start_demo("cabin_ventilator", "stall and release") is story
    assert story.view.connection.text == "Starting the software board cabin ventilator (stall and release)"
    assert (story.view.demo_motor, story.view.demo_story) == ("cabin_ventilator", "stall and release")
    await until(lambda: all(rig.view.connection.state is ConnectionState.LIVE for rig in bench), 45)
    serials = {record["serial"] for rig in bench if (record := rig.view.board_record()) is not None}
    assert serials == {"HB-0001", "HB-0003", "HB-0004"}


async def test_a_board_that_plays_faster_than_time_is_live_by_its_own_clock(bench: Rigs) -> None:
    rig = await bench.start_demo("bilge_pump", pace=2.0)
    await until(lambda: rig.view.sample_utc_s is not None, 30)
    begin_s, began_s = bench.utc_s(), rig.view.sample_utc_s
    states = set()
    for _ in range(100):
        await asyncio.sleep(0.02)
        states.add(rig.view.connected(bench.utc_s()).state)
    passed_s, ended_s = bench.utc_s() - begin_s, rig.view.sample_utc_s
    assert began_s is not None
    assert ended_s is not None
    assert 0.8 < (ended_s - began_s) / (2.0 * passed_s) < 1.2
    assert states == {ConnectionState.LIVE}


async def test_a_persons_rig_keeps_its_name_beside_the_demo(bench: Rigs) -> None:
    await bench.add(RigSettings("heron-1"))
    rig = await bench.start_demo("cabin_ventilator")
    assert rig.name == "heron-3"


async def test_a_software_board_that_ended_is_shown_and_can_be_started_again(
    bench: Rigs, caplog: pytest.LogCaptureFixture
) -> None:
    rig = await bench.start_demo("cabin_ventilator")
    await until(lambda: rig.view.connection.state is ConnectionState.LIVE, 30)
    (demo,) = bench._demos.values()
    assert demo._board is not None
    os.kill(demo._board.pid, signal.SIGKILL)
    await until(lambda: rig.view.connection.state is ConnectionState.ENDED)
    assert rig.view.connection.text == "The software board cabin_ventilator was killed (signal 9)."
    assert caplog.messages == [f"heron-1: {rig.view.connection.text}"]
    rig.view.tell(Event("mark", 0.0, "Before"), bench.utc_s())
    again = await bench.start_demo("cabin_ventilator")
    assert again.name == "heron-1"
    await until(lambda: again.view.connection.state is ConnectionState.LIVE, 30)
    assert "Before" in [event["text"] for event in again.view.events]


async def test_a_demo_that_was_refused_is_started_anew(bench: Rigs) -> None:
    rig = await bench.start_demo("cabin_ventilator")
    await until(lambda: rig.view.connection.state is ConnectionState.LIVE, 30)
    rig.view.connection = Connection(ConnectionState.REFUSED, "This PC is too slow")
    again = await bench.start_demo("cabin_ventilator")
    assert again is not rig
    await until(lambda: again.view.connection.state is ConnectionState.LIVE, 30)


async def test_two_requests_at_once_get_one_board(bench: Rigs) -> None:
    first, second = await asyncio.gather(bench.start_demo("lathe"), bench.start_demo("lathe"))
    assert first is second
    assert list(bench.demos()) == [first.name]


@pytest.mark.parametrize("after_s", [0.0, 0.2, 0.35, 0.4])
async def test_a_demo_that_is_stopped_while_it_starts_leaves_nothing(after_s: float, bench: Rigs) -> None:
    await bench.start_demo("tender_thruster")
    (demo,) = bench._demos.values()
    await asyncio.sleep(after_s)
    await bench.stop_demo("heron-2")
    assert demo._board is None or not Path(f"/proc/{demo._board.pid}").exists()
    assert not [thread.name for thread in threading.enumerate() if thread.name.startswith(("port", "recorder"))]


async def test_a_software_board_that_does_not_start_is_shown_and_can_be_tried_again(
    bench: Rigs, monkeypatch: pytest.MonkeyPatch
) -> None:
    async def fail(motor: str, serial: str, story: str, pace: float) -> DemoBoard:
        raise DemoBoardError(f"The software board {motor} did not start; planted.")

    with monkeypatch.context() as patch:
        patch.setattr(demo_board.DemoBoard, "start", fail)
        rig = await bench.start_demo("tender_thruster")
        await until(lambda: rig.view.connection.state is ConnectionState.ENDED)
        assert rig.view.connection.text == "The software board tender_thruster did not start; planted."
    again = await bench.start_demo("tender_thruster")
    assert again.name == "heron-2"
    await until(lambda: again.view.connection.state is ConnectionState.LIVE, 30)


async def test_wiring_and_drive_are_changed_while_a_demo_motor_runs_and_the_rig_sees_what_follows(bench: Rigs) -> None:
    rig = await bench.start_demo("net_winder")
    with pytest.raises(DemoBoardError, match="is still starting"):
        await bench.tell_demo(rig.name, {"ask": True})
    await until(lambda: rig.view.connection.state is ConnectionState.LIVE, 30)
    answer = await bench.tell_demo(rig.name, {"set": {"drive": "drive_3_a", "hall_order": "CAB", "phase_order": "WUV"}})
    assert (answer["teaching"], answer["settings"]["phase_order"]) == (True, "WUV")
    await until(lambda: (rig.view.latest.number("speed_rpm") or 0.0) > 500, 15)
    with pytest.raises(RefusedSettingError, match="write one of ABC"):
        await bench.tell_demo(rig.name, {"set": {"hall_order": "XYZ"}})
    with pytest.raises(KeyError):
        await bench.tell_demo("bench", {"ask": True})
