"""A rig with a board on a real pty: what its view says, and what it survives."""

import asyncio
import logging
import time
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from firmware_protocol import Describe, Message, Start, Status
from server.config import ConfigError, MotorSettings, Plate, RigSettings, RigText
from server.ingest.steady_clock import SteadyClock
from server.live.records import ConnectionState, Recording, RecordingState
from server.pipeline import Output, Pipeline
from server.rig import Rig
from server.runs.layout import Kind, Numbered, Records
from server.runs.marks import CABLE_BACK, CABLE_OUT, STOPPED
from tests.server.ingest.boards import DESCRIPTION, IDENTITY, PtyBoard, channel, frames, polite
from tests.server.until import until

PLATE = '[motor]\nname = "pump"\ntype = "brushless"\n[motor.plate]\nvoltage_v = 12\n'


def state(rig: Rig) -> ConnectionState:
    return rig.view.connection.state


async def test_a_board_becomes_live_and_its_description_is_in_the_view(
    board: PtyBoard, make_rig: Callable[..., Rig]
) -> None:
    rig = make_rig(RigSettings("bench", port=board.url))
    await rig.start()
    await until(lambda: rig.view.health.identity)
    assert state(rig) is ConnectionState.LIVE
    assert rig.view.health.identity == IDENTITY
    assert rig.view.connection.port == board.url


async def test_a_rig_without_a_port_says_so_and_waits(make_rig: Callable[..., Rig]) -> None:
    rig = make_rig(RigSettings("bench"))
    await rig.start()
    assert state(rig) is ConnectionState.NO_BOARD
    assert rig.view.connection.text == "No port is set for this rig"


async def test_a_refused_rig_shows_the_sentence_of_its_settings(
    make_rig: Callable[..., Rig], caplog: pytest.LogCaptureFixture
) -> None:
    error = ConfigError("/home/me/rigs/bench.toml", 2, "baud = 3: this is not possible", "write 2000000")
    rig = make_rig(RigSettings("bench"), refused=error)
    await rig.start()
    assert state(rig) is ConnectionState.SETTINGS_REFUSED
    said = rig.view.connection
    assert said.text == "bench.toml, line 2: baud = 3: this is not possible; write 2000000."
    assert (said.detail, said.file) == ("Correct the file; it is then read again by itself.", error.file)
    assert rig.refusal == str(error)
    assert caplog.messages == [f"bench: {said.text} {said.detail} ({error.file})"]


async def test_the_terminal_is_told_of_a_bad_port_once(
    make_rig: Callable[..., Rig], caplog: pytest.LogCaptureFixture, tmp_path: Path
) -> None:
    rig = make_rig(RigSettings("bench", port=str(tmp_path / "ttyACM0")))
    await rig.start()
    await until(lambda: state(rig) is ConnectionState.NO_BOARD and rig.view.connection.retry_s)
    await asyncio.sleep(1.5)  # it has been tried again meanwhile
    assert [line.split(". ")[0] for line in caplog.messages] == [f"bench: There is no port {tmp_path}/ttyACM0"]


async def test_the_terminal_is_told_again_when_a_board_that_came_back_is_lost_again(
    make_rig: Callable[..., Rig], caplog: pytest.LogCaptureFixture, tmp_path: Path
) -> None:
    link = tmp_path / "ttyACM0"
    rig = make_rig(RigSettings("bench", port=str(link)))
    for _ in range(2):
        board = PtyBoard()
        link.symlink_to(board.url)
        await rig.start() if rig._intake is None else None
        await until(lambda: state(rig) is ConnectionState.LIVE)
        link.unlink()
        board.pull()
        await until(lambda: state(rig) is ConnectionState.DISCONNECTED)
    assert len([line for line in caplog.messages if f"The port {link} is gone" in line]) == 2


@pytest.mark.parametrize(
    ("settings", "name", "source"),
    [(None, "pump", "board"), (MotorSettings("fan", "", Plate(voltage_v=230.0)), "fan", "settings")],
)
async def test_the_plate_of_the_board_holds_where_the_settings_are_silent(
    settings: MotorSettings | None, name: str, source: str, make_rig: Callable[..., Rig]
) -> None:
    told = frames(replace(IDENTITY, plate=PLATE), channel())
    board = PtyBoard(answer=lambda message: told if isinstance(message, Describe) else b"")
    rig = make_rig(RigSettings("bench", port=board.url, motor=settings))
    await rig.start()
    await until(lambda: rig.view.health.identity)
    assert (rig.view.motor.name, rig.view.motor.plate_source) == (name, source)
    board.pull()


async def test_a_board_that_started_anew_is_told_to_send_again(make_rig: Callable[..., Rig]) -> None:
    starts = 0

    def answer(message: Message) -> bytes:
        nonlocal starts
        starts += isinstance(message, Start)
        return polite(message)

    board = PtyBoard(answer=answer)
    rig = make_rig(RigSettings("bench", port=board.url))
    await rig.start()
    await until(lambda: starts)
    before = starts
    board.say(frames(Status(10, False, 0), boot=2))
    await until(lambda: starts > before, 1.0)
    board.pull()


async def test_a_pipeline_that_raises_goes_on_and_is_logged_once(
    board: PtyBoard, make_rig: Callable[..., Rig], monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    real = Pipeline.push
    calls = 0

    def push(pipeline: Pipeline, data: bytes, arrival_s: float) -> Output:
        nonlocal calls
        calls += 1
        if calls in (2, 4):
            raise ZeroDivisionError("planted")
        return real(pipeline, data, arrival_s)

    monkeypatch.setattr(Pipeline, "push", push)
    rig = make_rig(RigSettings("bench", port=board.url))
    with caplog.at_level(logging.ERROR):
        await rig.start()
        for number in range(3, 7):
            await until(lambda wanted=number: calls >= wanted)  # type: ignore[misc]  # bound per round
            board.say(frames(Status(2000, True, 0), first=300))
        await until(lambda: rig.view.health.identity)
    assert sum("could not be computed" in record.message for record in caplog.records) == 1


async def test_a_description_that_no_board_can_mean_is_refused_in_words(make_rig: Callable[..., Rig]) -> None:
    other_rate = replace(channel(Fraction(500)), index=1)
    told = frames(replace(IDENTITY, channels=2), channel(), other_rate)  # two rates in one group
    board = PtyBoard(answer=lambda message: told if isinstance(message, Describe) else b"")
    rig = make_rig(RigSettings("bench", port=board.url))
    await rig.start()
    await until(lambda: state(rig) is ConnectionState.REFUSED)
    assert "channel 1 has another rate than its group 0" in rig.view.connection.text
    board.pull()


async def test_other_settings_hold_at_once_and_another_port_is_opened(
    board: PtyBoard, make_rig: Callable[..., Rig]
) -> None:
    rig = make_rig(RigSettings("bench", port=board.url))
    await rig.start()
    await until(lambda: state(rig) is ConnectionState.LIVE)
    other = PtyBoard()
    motor = MotorSettings("fan", "", Plate(voltage_v=230.0))
    await rig.change_settings(RigText("", RigSettings("bench", port=board.url, motor=motor), {}))
    assert rig.view.motor.name == "fan"
    assert state(rig) is ConnectionState.LIVE
    await rig.change_settings(RigText("", RigSettings("bench", port=other.url, motor=motor), {}))
    await until(lambda: rig.view.connection.port == other.url and state(rig) is ConnectionState.LIVE)
    other.pull()


async def test_settings_that_were_mended_bring_a_refused_rig_to_life(
    board: PtyBoard, make_rig: Callable[..., Rig]
) -> None:
    rig = make_rig(RigSettings("bench"), refused=ConfigError("bench.toml", 2, "...", "..."))
    await rig.start()
    await rig.change_settings(RigText("", RigSettings("bench", port=board.url), {}))
    await until(lambda: state(rig) is ConnectionState.LIVE)
    assert rig.refusal == ""


async def test_a_stopped_rig_has_closed_its_port(board: PtyBoard, make_rig: Callable[..., Rig]) -> None:
    first, second = (make_rig(RigSettings(name, port=board.url)) for name in ("one", "two"))
    await first.start()
    await until(lambda: state(first) is ConnectionState.LIVE)
    await first.stop()
    await second.start()
    await until(lambda: state(second) is ConnectionState.LIVE)


async def test_a_run_is_recorded_from_the_first_byte_and_a_pulled_cable_is_its_gap(
    make_rig: Callable[..., Rig], tmp_path: Path
) -> None:
    first, link = PtyBoard(), tmp_path / "board"
    link.symlink_to(first.url)
    rig = make_rig(RigSettings("bench", port=str(link)))
    await rig.start()
    await until(lambda: rig.view.health.identity)
    first.say(frames(Status(2000, True, 0), first=300))
    await until(lambda: recording(rig).state is RecordingState.RECORDING)
    run = recording(rig).run
    await asyncio.sleep(0.05)  # the last bytes are on their way from the port's thread
    first.pull()
    await until(lambda: recording(rig).state is RecordingState.GAP)
    assert recording(rig).gap_since_utc_s == pytest.approx(rig.view.connection.since_utc_s)
    assert recording(rig).gaps_s == 0.0
    gone_s = time.monotonic()
    second = PtyBoard()
    link.unlink()
    link.symlink_to(second.url)
    await until(lambda: recording(rig).state is RecordingState.RECORDING and state(rig) is ConnectionState.LIVE)
    await asyncio.sleep(0.05)  # what the board said of itself is on its way from the port's thread
    assert recording(rig).run == run  # the same board: its run goes on
    assert 0.0 < recording(rig).gaps_s < time.monotonic() - gone_s + 1.0
    await rig.stop()
    (segment,) = (tmp_path / "runs" / run).glob("*.run")
    entries = [found.entry for found in Records().feed(segment.read_bytes()) if isinstance(found, Numbered)]
    kept = b"".join(entry.payload for entry in entries if entry.kind is Kind.CHUNK)
    assert kept.startswith(first.said)
    assert DESCRIPTION in kept[len(first.said) :]
    marks = [entry.text for entry in entries if entry.kind is Kind.MARK]
    assert marks == [CABLE_OUT, CABLE_BACK, STOPPED]  # the service that ends pulls no cable
    second.pull()


async def test_a_person_ends_the_run(board: PtyBoard, make_rig: Callable[..., Rig]) -> None:
    rig = make_rig(RigSettings("bench", port=board.url))
    await rig.start()
    assert rig.end_run() == ""
    await until(lambda: recording(rig).state is RecordingState.RECORDING)
    assert rig.end_run() == recording(rig).run != ""
    await until(lambda: recording(rig).state is RecordingState.CLOSED)
    assert recording(rig).reason == "ended by a person"


async def test_the_recording_is_shown_as_it_is_though_the_board_says_nothing_more(make_rig: Callable[..., Rig]) -> None:
    answers = iter((DESCRIPTION,))
    board = PtyBoard(answer=lambda message: next(answers, b"") if isinstance(message, Describe) else b"")
    rig = make_rig(RigSettings("bench", port=board.url))
    await rig.start()
    await until(lambda: recording(rig).state is RecordingState.RECORDING)
    assert rig.end_run() == recording(rig).run != ""
    await until(lambda: recording(rig).state is RecordingState.CLOSED)
    board.pull()


async def test_where_nothing_can_be_recorded_the_rig_is_live_and_says_why(board: PtyBoard, tmp_path: Path) -> None:
    rig = Rig(RigText("", RigSettings("bench", port=board.url), {}), SteadyClock().utc_s, None, "the disk is gone")
    await rig.start()
    await until(lambda: rig.view.health.identity)
    assert state(rig) is ConnectionState.LIVE
    assert (recording(rig).state, recording(rig).reason) == (RecordingState.FAILED, "the disk is gone")
    await rig.stop()


def recording(rig: Rig) -> Recording:
    return rig.view.recorded()
