"""A recorded run gives the readings again, bit for bit."""

from dataclasses import replace
from pathlib import Path
from random import Random

import pytest

from firmware_protocol import ClockReply, Identity, Status, encode_frame
from server.config import MotorSettings, Plate, RigSettings
from server.pipeline import Output
from server.runs.layout import Kind, Numbered
from server.runs.layout import record as written
from server.runs.library import Library
from server.runs.recording import Recording
from server.runs.replay import Replay
from server.runs.segments import entries, segments
from tests.firmware_protocol.independent import framed
from tests.seeded.damage import damaged
from tests.server.tiny_board import TinyBoard

SETTINGS = RigSettings("bench", rest_closes_run_s=10.0)
SHORT = ((3.0, 230.0, 0.5, 1400.0),)
LONG_REST = ((26.0, 0.0, 0.0, 0.0), (1.0, 0.0, 0.0, 0.0), (0.4, 230.0, 1.5, 1400.0), (1.6, 230.0, 0.5, 1400.0))


def said(outputs: list[Output]) -> list[object]:
    """All that was said but for the picture's samples, output by output that said anything."""
    return [
        (
            each.instants,
            each.events,
            each.damage,
            [fast.board_s.tolist() for fast in each.fast],
            each.described,
            each.frames,
        )
        for output in outputs
        for each in output.parts
    ]


def record(folder: Path, wire: bytes, seed: int = 0) -> list[Output]:
    """Through a rig's recording in uneven chunks, settings changed on the way; the outputs as they were shown."""
    library = Library(folder)
    recording, draw, shown, now_s = Recording(SETTINGS, library), Random(seed), list[Output](), 1_795_615_320.0
    shown += recording.connected(now_s)
    at, changed = 0, False
    while at < len(wire):
        size = draw.randrange(1, 1500)
        now_s += size * 8e-5
        shown += recording.chunk(wire[at : at + size], now_s)
        at += size
        if at > len(wire) // 2 and not changed:
            mine = MotorSettings("mine", "permanent_split_capacitor", Plate(voltage_v=230.0, current_a=0.45))
            shown += recording.change(replace(SETTINGS, motor=mine, stopped_rpm=7.25), now_s)
            changed = True
    recording.stop(now_s)
    library.close()
    return shown


def replayed(run: Path) -> tuple[list[Output], list[str]]:
    played = list(Replay(run))
    return [each.output for each in played if each.output is not None], [
        each.trouble for each in played if each.trouble
    ]


def test_a_damaged_story_with_a_change_of_settings_replays_bit_for_bit(tmp_path: Path) -> None:
    wire, faults = damaged(TinyBoard().wire(), 3)
    reply = ClockReply(1_795_615_320_000_000, 1_000_000, 1_000_100)
    wire += encode_frame(reply, sequence=9, boot=1)
    assert len(faults.touched) > 10
    live = record(tmp_path, wire)
    (run,) = [path for path in tmp_path.iterdir() if path.is_dir()]
    again, trouble = replayed(run)
    assert trouble == []
    # The bytes before the description were shown as they came and are in the run once.
    assert said(again) == said(live)
    assert len([each for output in again for each in output.instants]) > 50


@pytest.mark.parametrize("version", [(0, 10), (1, 7)])
def test_a_run_of_the_candidate_and_one_of_a_later_minor_version_play_as_one_of_1_0(
    tmp_path: Path, version: tuple[int, int]
) -> None:
    """The same frames but for two bytes of the identity; a later board sends fields and messages that nobody knows."""
    ours = record(tmp_path / "ours", TinyBoard().wire(SHORT))
    (path,) = (tmp_path / "ours").glob("*/")
    other = record(tmp_path / "other", spoken(version, later=version > (1, 0)))
    (run,) = (tmp_path / "other").glob("*/")
    again, trouble = replayed(run)
    assert trouble == []
    assert read(again) == read(other) == read(ours) == read(replayed(path)[0])
    assert len(read(again)) > 12
    described = [each.described for output in again for each in output.parts if each.described is not None]
    assert {(each.identity.major, each.identity.minor) for each in described} == {version}


def spoken(version: tuple[int, int], later: bool) -> bytes:
    frames, sequence = list[bytes](), 0
    for message in TinyBoard().messages(SHORT):
        if isinstance(message, Identity):
            more = ((8, b"later"),) if later else ()
            message = replace(message, major=version[0], minor=version[1], unknown=more)
        frames.append(encode_frame(message, sequence=sequence, boot=1))
        sequence += 1
        if later and isinstance(message, Status):
            frames.append(framed(0x18, 1, sequence % 65536, b"later"))
            sequence += 1
    return b"".join(frames)


def read(outputs: list[Output]) -> list[object]:
    """The readings and events alone."""
    return [each for output in outputs for part in output.parts for each in (*part.instants, *part.events)]


def test_a_run_that_opened_by_itself_replays_what_was_shown_since_then(tmp_path: Path) -> None:
    live = record(tmp_path, TinyBoard().wire(LONG_REST))
    first, second = sorted(path for path in tmp_path.iterdir() if path.is_dir())
    again, trouble = replayed(second)
    assert trouble == []
    last = [each for output in live for each in output.instants][-5:]
    assert [each for output in again for each in output.instants][-5:] == last
    assert replayed(first)[0]


@pytest.mark.parametrize("cut", [10, *(pytest.param(each, marks=pytest.mark.long) for each in (1, 200))])
def test_a_last_record_that_was_cut_off_costs_that_record_and_is_told(tmp_path: Path, cut: int) -> None:
    record(tmp_path, TinyBoard().wire())
    (run,) = [path for path in tmp_path.iterdir() if path.is_dir()]
    whole, _ = replayed(run)
    (path,) = segments(run)
    path.write_bytes(path.read_bytes()[:-cut])
    again, trouble = replayed(run)
    assert said(again) == said(whole)[: len(again)]
    assert len(trouble) == 1
    assert "hold no record" in trouble[0]


def test_a_spoilt_record_in_the_middle_is_damage_like_any_other(tmp_path: Path) -> None:
    record(tmp_path, TinyBoard().wire())
    (run,) = [path for path in tmp_path.iterdir() if path.is_dir()]
    (path,) = segments(run)
    data = bytearray(path.read_bytes())
    data[len(data) // 3] ^= 1
    path.write_bytes(bytes(data))
    again, trouble = replayed(run)
    damaged, missing = trouble
    assert " on hold no record, behind 2026-11-25 " in damaged
    assert missing.endswith(" before this one are missing")
    assert any(each.kind == "lost" for output in again for each in output.damage)
    assert len([each for output in again for each in output.instants]) > 40


def test_settings_given_instead_hold_for_the_whole_run(tmp_path: Path) -> None:
    record(tmp_path, TinyBoard().wire())
    (run,) = [path for path in tmp_path.iterdir() if path.is_dir()]
    replay = Replay(run, RigSettings("mine", motor=MotorSettings("other", "brushless", Plate())))
    assert [each.entry.kind for each in replay if each.entry is not None][:2] == [Kind.OPEN, Kind.BEGIN]
    assert replay.pipeline is not None
    assert replay.pipeline.motor.name == "other"


def test_a_folder_that_is_not_there_is_an_error_of_the_system(tmp_path: Path) -> None:
    with pytest.raises(OSError, match="No such file"):
        list(Replay(tmp_path / "20261125-1402-bench"))


def test_a_run_whose_beginning_was_lost_is_read_from_its_next_description_on(tmp_path: Path) -> None:
    record(tmp_path, TinyBoard().wire())
    (run,) = [path for path in tmp_path.iterdir() if path.is_dir()]
    (segment,) = segments(run)
    found = [each for each in entries(segment) if isinstance(each, Numbered)]
    begun = next(k for k, each in enumerate(found) if each.entry.kind is Kind.BEGIN)
    segment.write_bytes(b"".join(written(each.number, each.entry) for each in found[begun + 1 :]))
    again, trouble = replayed(run)
    assert len(trouble) == 1
    assert "entries before this one are missing" in trouble[0]
    assert len([each for output in again for each in output.instants]) > 50
