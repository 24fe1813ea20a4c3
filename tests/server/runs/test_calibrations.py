"""A run keeps the calibration that held: it is played with that of its time, and on request with another."""

from dataclasses import replace
from pathlib import Path

import pytest

from firmware_protocol import encode_frame
from server.calibration.entry import BoardCalibration
from server.pipeline import Output
from server.runs.course import Course
from server.runs.jump import entries_at
from server.runs.layout import Entry, Kind
from server.runs.library import Library
from server.runs.recording import Recording
from server.runs.replay import Replay, recorded
from server.runs.sum_up import summed_up
from tests.server.calibration.boards import BOARD, RUNNING, gained, text
from tests.server.runs.test_replay import SETTINGS, said
from tests.server.tiny_board import TinyBoard

BEGIN_UTC_S = 1_795_615_320.0
WIRE = BOARD.wire(RUNNING)
HALF = len(WIRE) // 2


def record(folder: Path, before: dict[str, str], then: BoardCalibration | None, serial: str = "T-1") -> list[Output]:
    """A rig's recording with `before` held at its start and `then` kept in the middle; what was shown."""
    library, texts = Library(folder), dict(before)
    recording = Recording(SETTINGS, library, calibrations=texts)
    shown = recording.connected(BEGIN_UTC_S)
    for at in range(0, len(WIRE), 700):
        shown += recording.chunk(WIRE[at : at + 700], BEGIN_UTC_S + at * 8e-5)
        if then is not None and at <= HALF < at + 700:
            texts[serial] = text(then)
            shown += recording.calibrate(serial, BEGIN_UTC_S + at * 8e-5)
    recording.stop(BEGIN_UTC_S + 60.0)
    library.close()
    return shown


def currents(outputs: list[Output]) -> list[float]:
    """RMS of the current in each window of the last stretch, where it is steady."""
    return [
        each.value
        for output in outputs
        for instant in output.instants
        if instant.board_s > 1.3
        for each in instant.readings
        if each.id == "current_rms_a" and isinstance(each.value, float)
    ]


def anything(outputs: list[Output]) -> list[object]:
    """What was said, without outputs that said nothing."""
    return [each for each in said(outputs) if isinstance(each, tuple) and any(each)]


def run_of(folder: Path) -> Path:
    (run,) = [path for path in folder.iterdir() if path.is_dir()]
    return run


def replayed(run: Path, calibrations: dict[str, BoardCalibration] | None = None) -> list[Output]:
    played = list(Replay(run, None, calibrations))
    assert [each.trouble for each in played if each.trouble] == []
    return [each.output for each in played if each.output is not None]


def test_a_calibration_kept_in_the_middle_holds_from_there_live_and_in_replay_bit_for_bit(tmp_path: Path) -> None:
    live = record(tmp_path, {}, gained(1.02))
    values = currents(live)
    before, after = values[0], values[-1]
    assert before == pytest.approx(1.0, rel=2e-3)
    assert after / before == pytest.approx(1.02, rel=1e-3)
    turned = next(k for k, value in enumerate(values) if value > 1.01)
    assert all(value < 1.01 for value in values[:turned])
    assert all(value > 1.01 for value in values[turned:])
    assert anything(replayed(run_of(tmp_path))) == anything(live)


def test_a_run_begins_with_what_held_then(tmp_path: Path) -> None:
    live = record(tmp_path, {"T-1": text(gained(1.02)), "T-2": text(gained(1.5, "T-2"))}, None)
    assert currents(live)[-1] == pytest.approx(1.02, rel=2e-3)
    entries = [each for each in recorded(run_of(tmp_path)) if isinstance(each, Entry)]
    kinds = [each.kind for each in entries]
    assert kinds[:4] == [Kind.OPEN, Kind.BEGIN, Kind.CALIBRATION, Kind.CHUNK]
    assert kinds.count(Kind.CALIBRATION) == 1
    assert anything(replayed(run_of(tmp_path))) == anything(live)


def test_on_request_another_calibration_takes_its_place_from_the_beginning(tmp_path: Path) -> None:
    record(tmp_path, {"T-1": text(gained(1.02))}, gained(1.03))
    today = currents(replayed(run_of(tmp_path), {"T-1": gained(1.05)}))
    assert min(today) == pytest.approx(1.05, rel=2e-3)
    none = currents(replayed(run_of(tmp_path), {}))
    assert max(none) == pytest.approx(1.0, rel=2e-3)


def test_a_calibration_of_another_board_changes_nothing_and_is_not_in_the_run(tmp_path: Path) -> None:
    live = record(tmp_path, {}, gained(1.5, "T-2"), "T-2")
    assert currents(live)[-1] == pytest.approx(1.0, rel=2e-3)
    entries = [each for each in recorded(run_of(tmp_path)) if isinstance(each, Entry)]
    assert Kind.CALIBRATION not in [each.kind for each in entries]


def test_a_second_board_at_the_same_place_has_its_own_calibration(tmp_path: Path) -> None:
    library = Library(tmp_path)
    recording = Recording(SETTINGS, library, calibrations={"T-1": text(gained(1.02)), "T-2": text(gained(1.04, "T-2"))})
    other = TinyBoard(channels=BOARD.channels, serial="T-2", boot=2).wire(RUNNING)
    shown, both = list[Output](), WIRE + other
    for at in range(0, len(both), 5000):
        shown += recording.chunk(both[at : at + 5000], BEGIN_UTC_S + at * 8e-5)
    recording.stop(BEGIN_UTC_S + 120.0)
    library.close()
    values = currents(shown)
    assert values[0] == pytest.approx(1.02, rel=2e-3)
    assert values[-1] == pytest.approx(1.04, rel=2e-3)
    first, second = sorted(path for path in tmp_path.iterdir() if path.is_dir())
    assert currents(replayed(second))[-1] == values[-1]
    assert currents(replayed(first))[-1] == pytest.approx(1.02, rel=2e-3)


def test_the_channels_that_are_shown_are_those_that_were_calibrated(tmp_path: Path) -> None:
    shown = record(tmp_path, {}, gained(1.02))
    told = [output.channels for output in shown if output.channels]
    assert len(told) == 1
    assert told[0][1].gain is not None
    assert told[0][1].gain.origin == "gain calibration of 2026-11-25 against bench meter 34"


def test_a_calibration_that_the_board_s_description_no_longer_fits_is_told_and_not_used(tmp_path: Path) -> None:
    library = Library(tmp_path)
    recording = Recording(SETTINGS, library, calibrations={"T-1": text(gained(1.02))})
    doubled = replace(BOARD.channels[1], scale=4e-4)
    shown = recording.chunk(TinyBoard(channels=(BOARD.channels[0], doubled)).wire(RUNNING), BEGIN_UTC_S)
    recording.stop(BEGIN_UTC_S + 60.0)
    library.close()
    assert currents(shown)[-1] == pytest.approx(2.0, rel=2e-3)
    said_of = [report.text for output in shown for report in output.damage if report.kind == "calibration"]
    assert "the board describes this channel otherwise than it did then; calibrate it again" in said_of[0]


def test_the_budget_of_a_reading_names_the_calibration_and_its_age(tmp_path: Path) -> None:
    """A year over the limit of a year: the board's 1 % is back, and the words say so."""
    old = gained(1.02, made_utc_s=BEGIN_UTC_S - 2 * 365 * 86_400.0)
    fresh, widened = (
        [
            each.uncertainty
            for output in record(tmp_path / name, {"T-1": text(its)}, None)
            for instant in output.instants
            for each in instant.readings
            if each.id == "current_rms_a" and instant.board_s > 1.3
        ][-1]
        for name, its in (("fresh", gained(1.02)), ("old", old))
    )
    assert fresh is not None
    assert widened is not None
    words = dict(fresh.parts)
    assert words["gain of line: gain calibration of 2026-11-25 against bench meter 34"] == pytest.approx(
        0.001, rel=1e-2
    )
    assert widened.half > 5.0 * fresh.half
    assert "gain of line: gain calibration of 2024-11-25 against bench meter 34, widened: 2.0 years away" in dict(
        widened.parts
    )


def test_a_place_that_is_jumped_to_has_the_calibration_that_held_there(tmp_path: Path) -> None:
    """Another was kept after 2 s; playing begins 10 s before the place."""
    library, texts = Library(tmp_path), {"T-1": text(gained(1.02))}
    recording = Recording(SETTINGS, library, calibrations=texts)
    wire = BOARD.wire(((0.2, 0.0, 0.0, 0.0), (0.4, 230.0, 1.5, 1400.0), (12.4, 230.0, 1.0, 1400.0)))
    per_s = len(wire) / 13.0
    for at in range(0, len(wire), 5000):
        if texts["T-1"] != text(gained(1.04)) and at > 2.0 * per_s:
            texts["T-1"] = text(gained(1.04))
            recording.calibrate("T-1", BEGIN_UTC_S + at / per_s)
        recording.chunk(wire[at : at + 5000], BEGIN_UTC_S + at / per_s)
    recording.end_run(BEGIN_UTC_S + 14.0)
    recording.stop(BEGIN_UTC_S + 14.0)
    library.close()
    digest = summed_up(run_of(tmp_path))
    for place_s, factor in ((11.2, 1.02), (12.5, 1.04)):
        entries = entries_at(run_of(tmp_path), digest, BEGIN_UTC_S + place_s)
        assert entries is not None
        course, shown = Course("bench"), list[Output]()
        for each in entries:
            assert isinstance(each, Entry)
            shown.append(course.perform(each) or Output())
            if currents(shown):
                break
        assert currents(shown)[0] == pytest.approx(factor, rel=3e-3)


def test_one_that_is_kept_while_the_cable_is_out_replays_bit_for_bit_too(tmp_path: Path) -> None:
    library, texts = Library(tmp_path), {"T-1": text(gained(1.02))}
    recording = Recording(SETTINGS, library, calibrations=texts)
    frames = BOARD.frames(RUNNING)
    first, lost, again = frames[:200], frames[200:260], frames[260:]
    shown = recording.chunk(b"".join(first), BEGIN_UTC_S)
    shown += recording.disconnected(BEGIN_UTC_S + 2.0)
    shown += recording.connected(BEGIN_UTC_S + 3.0)
    shown += recording.chunk(again[0], BEGIN_UTC_S + 3.1)  # nobody has said yet who is back
    texts["T-1"] = text(gained(1.04))
    shown += recording.calibrate("T-1", BEGIN_UTC_S + 3.2)
    said_again = b"".join(encode_frame(each, sequence=k, boot=1) for k, each in enumerate(BOARD.description()))
    shown += recording.chunk(said_again + b"".join(again[1:]), BEGIN_UTC_S + 3.3)
    recording.stop(BEGIN_UTC_S + 10.0)
    library.close()
    assert lost
    assert currents(shown)[-1] == pytest.approx(1.04, rel=2e-3)
    assert anything(replayed(run_of(tmp_path))) == anything(shown)
