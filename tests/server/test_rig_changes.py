"""Another board, a better description, another motor: what a rig tells and forgets."""

import asyncio
import contextlib
import os
import threading
import time
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from firmware_protocol import Describe
from server import away
from server.away import NOT_KEPT_UP
from server.config import MotorSettings, RigSettings, RigText
from server.ingest import intake
from server.ingest.intake import Intake
from server.live.records import ConnectionState, RecordingState
from server.pipeline import Output
from server.readings import Instant, Reading
from server.rig import Rig
from server.runs import replay
from server.runs.layout import Entry, Kind
from server.runs.library import Library
from server.runs.recording import Recording
from server.runs.sum_up import summed_up
from server.stream.clock import Clock
from tests.server.ingest.boards import DESCRIPTION, IDENTITY, PtyBoard, channel, frames
from tests.server.until import until


def state(rig: Rig) -> ConnectionState:
    return rig.view.connection.state


async def test_another_board_at_the_same_port_is_told_even_after_the_service_was_started_again(
    make_rig: Callable[..., Rig], tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    def answers(serial: str) -> PtyBoard:
        told = frames(replace(IDENTITY, serial=serial), channel())
        return PtyBoard(answer=lambda message: told if isinstance(message, Describe) else b"")

    first = answers("T-1")
    before = make_rig(RigSettings("bench", port=first.url))
    await before.start()
    await until(lambda: before.view.health.identity)
    await until(lambda: Library(tmp_path / "runs").newest("bench"))
    assert (before.view.instead_of, list(before.view.events)) == ("", [])
    await before.stop()
    first.pull()
    second = answers("T-2")
    after = make_rig(RigSettings("bench", port=second.url))
    await after.start()
    await until(lambda: after.view.health.identity)
    assert after.view.instead_of == "T-1"
    assert [(each["kind"], each["text"]) for each in after.view.events] == [
        ("another_board", "Another board came: T-2 instead of T-1")
    ]
    assert "board T-2 answers where T-1 did" in caplog.text
    await until(lambda: len(Library(tmp_path / "runs").runs()) == 2)
    after.end_run()  # whoever ends the run has seen it
    assert after.view.instead_of == ""
    second.pull()


async def test_a_board_that_describes_itself_better_after_a_refusal_is_live_again(make_rig: Callable[..., Rig]) -> None:
    impossible = frames(replace(IDENTITY, tick_hz=100_000_000), channel(Fraction(1)))  # a sample every 10 ns
    said = [impossible]
    board = PtyBoard(answer=lambda message: said[0] if isinstance(message, Describe) else b"")
    rig = make_rig(RigSettings("bench", port=board.url))
    await rig.start()
    await until(lambda: state(rig) is ConnectionState.REFUSED)
    board.say(frames(replace(IDENTITY, boot=IDENTITY.boot + 256), channel()))
    await until(lambda: state(rig) is ConnectionState.LIVE)
    board.pull()


async def test_readings_of_another_type_of_motor_are_not_shown_on(
    board: PtyBoard, make_rig: Callable[..., Rig]
) -> None:
    rig = make_rig(RigSettings("bench", port=board.url, motor=MotorSettings(type="permanent_split_capacitor")))
    await rig.start()
    await until(lambda: rig.view.health.identity)
    rig.view.latest.take(Instant(0, 1, 0.2, 0.2, (Reading("slip", 0.1),)), Clock(1.0))
    await rig.change_settings(RigText("", replace(rig.settings, motor=MotorSettings(type="brushless")), {}))
    assert rig.view.latest.get("slip") is None


async def recorded(rig: Rig, board: PtyBoard) -> None:
    """A board that hears nothing says who it is by itself, again and again."""
    while state(rig) is not ConnectionState.LIVE or rig.view.recorded().state is not RecordingState.RECORDING:
        board.say(DESCRIPTION)
        await asyncio.sleep(0.05)


async def test_a_board_that_sends_more_than_can_be_computed_is_cut_off_and_tried_again_and_the_run_says_so(
    make_rig: Callable[..., Rig], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(intake, "BEHIND_S_MAX", 0.3)
    monkeypatch.setattr(away, "PAUSES_S", (0.5,))
    chunk = Recording.chunk

    def slow(recording: Recording, data: bytes, utc_s: float) -> list[Output]:
        time.sleep(0.02)
        return chunk(recording, data, utc_s)

    monkeypatch.setattr(Recording, "chunk", slow)
    hand_over, came = Intake._hand_over, list[int]()

    def counted(its: Intake, data: bytes, arrival_s: float) -> None:
        came.append(len(data))
        hand_over(its, data, arrival_s)

    monkeypatch.setattr(Intake, "_hand_over", counted)
    board = PtyBoard(greeting=DESCRIPTION, reads=False)  # it floods, and hears nothing
    rig = make_rig(RigSettings("bench", port=board.url))
    await rig.start()
    await recorded(rig, board)
    flooding = threading.Event()
    os.set_blocking(board.master, False)

    def flood() -> None:
        while not flooding.is_set():
            with contextlib.suppress(BlockingIOError):
                os.write(board.master, b"x\0" * 2000)
            time.sleep(0.0005)

    thread = threading.Thread(target=flood, daemon=True)
    thread.start()
    await until(lambda: rig.view.connection.text == "This PC is too slow for what this board sends", 10.0)
    assert (state(rig), rig.view.connection.retry_s) == (ConnectionState.REFUSED, 0.5)
    assert rig.view.recorded().state is RecordingState.GAP
    flooding.set()
    thread.join()
    monkeypatch.setattr(Recording, "chunk", chunk)
    os.set_blocking(board.master, True)
    await until(lambda: state(rig) is not ConnectionState.REFUSED)
    await recorded(rig, board)
    assert rig.view.recorded().gaps_s > 0.5
    assert "too_slow" in [event["kind"] for event in rig.view.events]
    run = tmp_path / "runs" / rig.view.recorded().run
    await rig.stop()
    told = summed_up(run)
    assert NOT_KEPT_UP in [event["text"] for event in told["events"]]
    assert told["missing_s"] > 0.5
    chunks = [each.payload for each in replay.recorded(run) if isinstance(each, Entry) and each.kind is Kind.CHUNK]
    assert sum(map(len, chunks)) == sum(came)
    board.pull()
