"""What a rig holds of runs: it shows and it records, and a restart of the service leaves a gap."""

from collections.abc import Iterable
from itertools import islice
from pathlib import Path
from typing import Any

import pytest

from server.config import RigSettings
from server.pipeline import Output, Pipeline
from server.runs.account import Account
from server.runs.account_so_far import Counted
from server.runs.layout import Entry, Kind
from server.runs.library import Library
from server.runs.life import Phase
from server.runs.recording import Recording
from server.runs.replay import Replay, recorded
from tests.server.runs.test_recorder import wait_for
from tests.server.tiny_board import TinyBoard

SETTINGS = RigSettings("bench")
WIRE = TinyBoard().wire()


def account_of(entries: Iterable[Entry | str]) -> list[dict[str, Any]]:
    account = Account()
    for each in entries:
        assert isinstance(each, Entry)
        account.take(each)
    return account.record()


def test_without_a_library_it_shows_and_records_nothing() -> None:
    recording = Recording(SETTINGS, None)
    outputs = recording.chunk(WIRE, 1000.0)
    assert sum(len(each.instants) for each in outputs) > 50
    assert recording.writing.state == "none"
    assert recording.phase is Phase.RECORDING
    recording.stop(1001.0)


def test_readings_are_shown_once_although_their_bytes_were_performed_twice(tmp_path: Path) -> None:
    library = Library(tmp_path)
    recording = Recording(SETTINGS, library)
    outputs = [each for at in range(0, 40_000, 400) for each in recording.chunk(WIRE[at : at + 400], 1000.0 + at)]
    told = [(each.tick, each.readings[0].id) for output in outputs for each in output.instants]
    assert told
    assert len(told) == len(set(told))
    recording.stop(2000.0)
    library.close()


def test_after_a_restart_of_the_service_the_run_goes_on_with_a_gap_and_a_fresh_pipeline(tmp_path: Path) -> None:
    library = Library(tmp_path)
    first = Recording(SETTINGS, library)
    first.chunk(WIRE[:30_000], 1_795_615_320.0)
    counted = first.counted()
    first.stop(1_795_615_325.0)
    second = Recording(SETTINGS, library)
    second.connected(1_795_615_340.0)
    (left,) = library.runs()
    assert (first.awaited, second.awaited) == ("", left.name)
    second.chunk(b"".join(TinyBoard().frames()[:5]) + WIRE[60_000:], 1_795_615_341.0)
    assert second.awaited == ""
    so_far = second.counted()
    second.end_run(1_795_615_342.0)
    second.stop(1_795_615_343.0)
    (run,) = library.runs()
    told = recorded(tmp_path / run.name)
    assert counted == Counted(account_of(islice(told, 3)))  # as of its file
    assert so_far.from_utc_s == 1_795_615_341.0  # what came before the restart was counted before it
    assert so_far.lines[0]["stored"] > 0
    assert second.counted().lines == []
    assert run.reason == "ended by a person"
    entries = [each for each in recorded(tmp_path / run.name) if isinstance(each, Entry)]
    kinds = [each.kind for each in entries]
    assert kinds == [
        Kind.OPEN,
        Kind.BEGIN,
        Kind.CHUNK,
        Kind.MARK,
        Kind.MARK,
        Kind.BEGIN,
        Kind.CHUNK,
        Kind.CLOSE,
    ]
    assert [each.text for each in entries if each.kind is Kind.MARK] == [
        "The service was stopped",
        "The service was started again",
    ]
    ends = [each.board_s for played in Replay(tmp_path / run.name) if played.output for each in played.output.instants]
    assert ends[0] == 0.2
    assert ends == sorted(ends)
    library.close()


def test_a_run_that_was_ended_is_not_continued(tmp_path: Path) -> None:
    library = Library(tmp_path)
    first = Recording(SETTINGS, library)
    first.chunk(WIRE[:30_000], 1_795_615_320.0)
    first.end_run(1_795_615_321.0)
    first.stop(1_795_615_322.0)
    second = Recording(SETTINGS, library)
    second.chunk(WIRE, 1_795_615_400.0)
    second.stop(1_795_615_401.0)
    assert len(library.runs()) == 2
    library.close()


def test_the_run_that_is_open_has_a_name_and_one_that_was_ended_is_not_named_again(tmp_path: Path) -> None:
    library = Library(tmp_path)
    recording = Recording(SETTINGS, library)
    assert recording.run == ""
    recording.chunk(WIRE[:20_000], 1_795_615_320.0)
    wait_for(lambda: recording.run)
    assert recording.run == recording.writing.run == "20261125-1402-bench"
    recording.end_run(1_795_615_330.0)
    assert recording.run == ""
    recording.chunk(WIRE[20_000:40_000], 1_795_615_331.0)  # the motor runs: the next run opens at once
    assert recording.phase is Phase.RECORDING
    assert recording.run in ("", "20261125-1402-bench-2")  # its folder is made by another thread
    wait_for(lambda: recording.run)
    assert recording.run == recording.writing.run == "20261125-1402-bench-2"
    recording.stop(1_795_615_340.0)
    second = Recording(SETTINGS, library)
    second.chunk(b"".join(TinyBoard().frames()[:5]), 1_795_615_350.0)
    wait_for(lambda: second.run)
    assert second.run == "20261125-1402-bench-2"  # it was left open and goes on
    second.stop(1_795_615_351.0)
    library.close()


def test_what_comes_behind_the_end_of_a_run_is_none_of_what_it_has_to_say(tmp_path: Path) -> None:
    library, wire = Library(tmp_path), TinyBoard().wire(((8.0, 0.0, 0.0, 0.0),))
    half, recording = len(wire) // 2, Recording(SETTINGS, library)
    recording.chunk(wire[:half], 1_795_615_324.0)
    wait_for(lambda: recording.run)
    name = recording.run
    recording.end_run(1_795_615_324.1)
    told, silent_s = recording.evidence(), recording.silent_s
    assert recording.chunk(wire[half:], 1_795_615_400.0), "it is shown; the motor rests, so that no other run opens"
    assert (recording.run, recording.evidence_of) == ("", name)
    assert (recording.evidence(), recording.silent_s) == (told, silent_s)
    recording.stop(1_795_615_501.0)
    library.close()


def test_where_nothing_is_recorded_no_run_has_a_name() -> None:
    recording = Recording(SETTINGS, None)
    recording.chunk(WIRE[:20_000], 1_795_615_320.0)
    assert (recording.phase, recording.run) == (Phase.RECORDING, "")
    recording.stop(1_795_615_321.0)


class _Trap:
    """Makes the pipeline raise on every chunk that holds `bait`, while it is set."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.bait: bytes | None = None
        self.caught = 0
        push = Pipeline.push

        def trapped(pipeline: Pipeline, data: bytes, arrival_s: float) -> Output:
            if self.bait is not None and self.bait in data:
                self.caught += 1
                raise ArithmeticError(f"number {self.caught}")
            return push(pipeline, data, arrival_s)

        monkeypatch.setattr(Pipeline, "push", trapped)


def kept_bytes(run: Path) -> bytes:
    return b"".join(e.payload for e in recorded(run) if isinstance(e, Entry) and e.kind is Kind.CHUNK)


def test_what_was_held_while_the_cable_came_back_is_recorded_though_the_pipeline_fails_on_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    trap, library, told = _Trap(monkeypatch), Library(tmp_path), list[Exception]()
    recording = Recording(SETTINGS, library, told.append)
    recording.chunk(WIRE[:30_000], 1_795_615_320.0)
    recording.disconnected(1_795_615_321.0)
    recording.connected(1_795_615_322.0)
    held = [WIRE[at : at + 1000] for at in range(30_000, 50_000, 1000)]  # who is there, is not said in them
    for k, data in enumerate(held):
        assert recording.chunk(data, 1_795_615_322.0 + 0.05 * k) == []
    trap.bait = b""
    identity = b"\0" + TinyBoard().frames()[0]
    recording.chunk(identity + WIRE[50_000:51_000], 1_795_615_325.0)
    assert [str(error) for error in told] == [f"number {k}" for k in range(1, 22)]
    trap.bait = None
    recording.chunk(WIRE[51_000:], 1_795_615_326.0)
    recording.stop(1_795_615_330.0)
    assert kept_bytes(tmp_path / library.runs()[0].name) == WIRE[:50_000] + identity + WIRE[50_000:]
    library.close()


def test_what_was_held_until_the_description_is_recorded_though_the_pipeline_fails_on_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    trap, library, told = _Trap(monkeypatch), Library(tmp_path), list[Exception]()
    recording = Recording(SETTINGS, library, told.append)
    described = b"".join(TinyBoard().frames()[:5])
    noise = b"\0noise on the line\0"
    recording.chunk(noise, 1_795_615_320.0)
    trap.bait = noise  # harmless at first, and not when the run begins with it
    (output,) = recording.chunk(described, 1_795_615_320.5)
    assert output.described is not None  # what could be computed is shown
    assert len(told) == 1
    recording.stop(1_795_615_321.0)
    assert kept_bytes(tmp_path / library.runs()[0].name) == noise + described
    library.close()


def test_the_last_bytes_reach_the_disk_though_the_pipeline_fails_on_them(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    trap, library, told = _Trap(monkeypatch), Library(tmp_path), list[Exception]()
    recording = Recording(SETTINGS, library, told.append)
    recording.chunk(WIRE[:30_000], 1_795_615_320.0)
    recording.connected(1_795_615_321.0)
    recording.chunk(WIRE[30_000:40_000], 1_795_615_321.5)
    trap.bait = b""
    recording.stop(1_795_615_322.0)
    assert len(told) == 1
    assert kept_bytes(tmp_path / library.runs()[0].name) == WIRE[:40_000]
    entries = [each for each in recorded(tmp_path / library.runs()[0].name) if isinstance(each, Entry)]
    assert entries[-1].text == "The service was stopped"
    library.close()
