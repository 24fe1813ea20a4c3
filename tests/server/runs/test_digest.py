"""A run in short: what is kept of it agrees with what was put into it."""

import errno
import itertools
import json
import math
import random
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from firmware_protocol import Samples
from server.config import RigSettings
from server.pipeline import Output
from server.readings import Event
from server.runs.beside import read_digest, read_former_digest, read_so_far, write_digest
from server.runs.digest import CHANGES_MAX, EVENTS_MAX, Digest
from server.runs.layout import Entry, Kind
from server.runs.library import Library
from server.runs.overview import COLUMNS_MAX, Overview
from server.runs.recording import Recording
from server.runs.sum_up import main, summed_up
from tests.server.runs.recordings import LASTS_S, OPENED_UTC_S, Story, recorded_run, rewritten, segment_of
from tests.server.tiny_board import TinyBoard


@pytest.fixture
def library(tmp_path: Path) -> Iterator[Library]:
    made = Library(tmp_path / "runs")
    yield made
    made.close()


def test_a_run_in_short_tells_motor_events_and_length(library: Library) -> None:
    name = recorded_run(library)
    told = summed_up(library.folder / name)
    assert (told["motor"], told["type"], told["serial"]) == ("test fan", "permanent_split_capacitor", "T-1")
    assert told["reason"] == "ended by a person"
    assert told["to_utc_s"] - OPENED_UTC_S == pytest.approx(LASTS_S, abs=0.1)
    kinds = [each["kind"] for each in told["events"]]
    assert kinds[0] == "power_on"
    assert "stalled" in kinds
    assert told["events_count"] == len(kinds)
    counted = {line["what"]: (line["promised"], line["stored"], line["exact"]) for line in told["account"]}
    assert counted["samples"] == (1000 * LASTS_S, 1000 * LASTS_S, True)
    assert set(counted) == {"samples", "single samples", "edges"}
    assert told["bytes"] == segment_of(library, name).stat().st_size
    assert (told["gaps"], told["missing_s"], told["troubles"]) == ([], 0.0, [])


def test_the_first_start_is_the_current_from_power_on_as_it_was_put_in(library: Library) -> None:
    start = summed_up(library.folder / recorded_run(library))["start"]
    assert start["utc_s"] == pytest.approx(OPENED_UTC_S + 1.0, abs=0.1)  # the story rests for 1 s
    assert len(start["current_a"]) == 120
    assert start["current_a"][5:35] == pytest.approx([1.5] * 30, rel=0.02)  # 1.5 A for 0.4 s, then 0.5 A
    assert start["current_a"][50:] == pytest.approx([0.5] * 70, rel=0.02)


def test_a_run_without_a_start_has_no_start(library: Library) -> None:
    told = summed_up(library.folder / recorded_run(library, story=((3.0, 0.0, 0.0, 0.0),)))
    assert told["start"] is None
    assert told["events"] == []


def test_a_run_that_begins_while_the_motor_runs_has_no_start(library: Library) -> None:
    told = summed_up(
        library.folder / recorded_run(library, story=((0.1, 230.0, 0.5, 1400.0), (4.0, 230.0, 0.5, 1400.0)))
    )
    assert told["start"] is None
    assert told["overview"] is not None


def test_coming_free_from_a_stall_in_which_a_run_began_is_no_start_and_the_next_start_is(library: Library) -> None:
    held: Story = ((2.0, 230.0, 1.5, 0.0), (2.0, 230.0, 0.5, 1400.0))
    free = library.folder / recorded_run(library, rig="a", story=held)
    assert summed_up(free)["start"] is None
    again = library.folder / recorded_run(library, rig="b", story=(*held, (1.0, 0, 0, 0), (2.0, 230.0, 0.5, 1400.0)))
    assert summed_up(again)["start"]["utc_s"] == pytest.approx(OPENED_UTC_S + 5.0, abs=0.1)


def test_a_gap_is_told_with_its_length(library: Library) -> None:
    recording, frames = Recording(RigSettings("bench"), library), TinyBoard().frames()
    recording.chunk(b"".join(frames[:300]), OPENED_UTC_S + 3.0)
    recording.disconnected(OPENED_UTC_S + 3.0)
    recording.connected(OPENED_UTC_S + 10.0)
    recording.chunk(b"".join([*frames[:5], *frames[700:]]), OPENED_UTC_S + 10.0)
    recording.end_run(OPENED_UTC_S + 11.0)
    recording.stop(OPENED_UTC_S + 11.0)
    told = summed_up(library.folder / library.runs()[0].name)
    assert told["gaps"] == [[OPENED_UTC_S + 3.0, OPENED_UTC_S + 10.0]]


ON: Story = ((1.0, 0.0, 0.0, 0.0), (0.4, 230.0, 1.5, 1400.0), (5.6, 230.0, 0.5, 1400.0))  # and stays on


def listened(recording: Recording, begin_s: float, end_s: float, late_s: float = 0.0) -> None:
    """What the board of that story sends from then on, as it is described each time, in pieces of 50 ms."""
    board, at_s, waiting = TinyBoard(), 0.0, b""
    for number, (message, frame) in enumerate(zip(board.messages(ON), board.frames(ON), strict=True)):
        at_s = message.tick * 1e-6 if isinstance(message, Samples) else at_s
        waiting += frame if number < len(board.description()) or begin_s <= at_s < end_s else b""
        if waiting and isinstance(message, Samples) and message.first_sample % 50 == 40:
            recording.chunk(waiting, OPENED_UTC_S + max(at_s, begin_s) + late_s)
            waiting = b""


def test_a_start_of_the_service_within_a_run_drops_no_start_and_no_on_time(library: Library) -> None:
    for begin_s, end_s in ((0.0, 3.0), (4.0, 7.0)):
        recording = Recording(RigSettings("bench"), library)
        listened(recording, begin_s, end_s)
        recording.stop(OPENED_UTC_S + end_s)
    told = summed_up(library.folder / library.runs()[0].name)
    duty = told["evidence"]["duty"]
    assert duty["starts"] == duty["cycles"] == 1
    assert duty["on_s"] == pytest.approx(2.0, abs=0.25)
    assert "the service was started anew before it ended" in duty["table"][0]["doubts"]
    assert duty["under_way"]["begun"] == "before"
    assert duty["under_way"]["figures"]["on_time_s"][0] == pytest.approx(3.0, abs=0.25)
    assert told["gaps"] == [[pytest.approx(OPENED_UTC_S + 3.0, abs=0.1), OPENED_UTC_S + 4.0]]


@pytest.mark.parametrize("hung", [False, True])
def test_silence_is_a_hole_without_a_mark_too_and_counts_once(library: Library, hung: bool) -> None:
    """From 2 s to 5 s nothing comes: the board hung and went on with its counts, or what it sent was lost."""
    recording = Recording(RigSettings("bench"), library)
    listened(recording, 0.0, 2.0)
    listened(recording, *((2.0, 4.0, 3.0) if hung else (5.0, 7.0)))
    recording.stop(OPENED_UTC_S + 7.0)
    told = summed_up(library.folder / library.runs()[0].name)
    assert told["gaps"] == [[pytest.approx(OPENED_UTC_S + 2.0, abs=0.1), pytest.approx(OPENED_UTC_S + 5.0, abs=0.1)]]
    assert told["missing_s"] == pytest.approx(3.0, abs=0.1)


def test_what_cannot_be_read_is_said_and_the_rest_is_summed_up(library: Library) -> None:
    name = recorded_run(library)
    segment = segment_of(library, name)
    data = bytearray(segment.read_bytes())
    data[len(data) // 2 : len(data) // 2 + 100] = b"x" * 100
    segment.write_bytes(data)
    told = summed_up(library.folder / name)
    assert told["motor"] == "test fan"
    assert "hold no record" in told["troubles"][0]


@pytest.mark.parametrize(
    "time_s", [float("nan"), 1e300, *(pytest.param(each, marks=pytest.mark.long) for each in (float("inf"), -1e300))]
)
def test_times_that_no_clock_tells_are_said_and_break_nothing(library: Library, time_s: float) -> None:
    name = recorded_run(library)
    rewritten(segment_of(library, name), lambda entry: time_s if entry.kind is Kind.CHUNK else entry.utc_s)
    told = summed_up(library.folder / name)
    json.dumps(told, allow_nan=False)
    assert "has no time that a clock tells" in told["troubles"][0]
    assert told["motor"] == "test fan"


def test_times_thousands_of_years_apart_are_summed_up_too(library: Library) -> None:
    name = recorded_run(library)
    times = itertools.cycle((0.0, OPENED_UTC_S, 250e9))
    rewritten(segment_of(library, name), lambda entry: next(times))
    json.dumps(summed_up(library.folder / name), allow_nan=False)


def test_a_folder_without_a_recording_is_summed_up_as_nothing(tmp_path: Path) -> None:
    run = tmp_path / "20261125-1402-bench"
    run.mkdir()
    told = summed_up(run)
    assert (told["motor"], told["events"], told["start"], told["overview"], told["bytes"]) == ("", [], None, None, 0)
    with pytest.raises(FileNotFoundError):
        summed_up(tmp_path / "gone")


def full(*_: object) -> None:
    raise OSError(errno.ENOSPC, "No space left on device")


def test_the_program_keeps_what_it_found_beside_the_run(
    library: Library, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("server.runs.sum_up.begin_quietly", lambda: None)
    run = library.folder / recorded_run(library)
    with monkeypatch.context() as patched:
        patched.setattr("server.runs.sum_up.write_digest", full)
        assert main([str(run)]) == 1
    assert capsys.readouterr().err == "the disk is full\n"
    assert main([str(run)]) == 0
    kept = read_digest(run)
    assert kept is not None
    assert kept["motor"] == "test fan"
    write_digest(run, {**kept, "troubles": ["x" * (1 << 20)]})
    assert read_digest(run) is not None  # however much a long run has to tell
    monkeypatch.setattr("server.runs.sum_up.is_thinned", lambda run: True)
    former = {**kept, "format": kept["format"] - 1, "motor": "as it was"}
    (run / "digest.json").write_text(json.dumps(former))  # the version before wrote no checksum
    assert main([str(run)]) == 0
    assert read_digest(run) == {**kept, "motor": "as it was"}  # nobody can make it again
    first = {**kept["events"][0], "detail": None}
    for change in ({"motor": None}, {"missing_s": math.nan}, {"events": [first]}, {"bytes": "x"}, {"evidence": None}):
        (run / "digest.json").write_text(json.dumps({**former, **change}))
        assert read_former_digest(run) is None
    assert main([str(run)]) == 0
    assert read_digest(run) == kept, "what is broken is made again, as far as that goes"
    (run / "digest.json").write_text('{"format": 77}')
    assert read_digest(run) is None  # of another version: made again
    (run / "digest.json").write_text("[" * 100_000)
    assert read_digest(run) is None


def test_a_run_in_short_with_a_flipped_bit_is_none_and_is_made_again(
    library: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("server.runs.sum_up.begin_quietly", lambda: None)
    run = library.folder / recorded_run(library, story=((0.2, 0.0, 0.0, 0.0), (0.5, 230.0, 0.5, 1400.0)))
    write_digest(run, summed_up(run))
    kept, whole, draw = read_digest(run), (run / "digest.json").read_bytes(), random.Random(1)
    for _ in range(300):
        data = bytearray(whole)
        data[draw.randrange(len(data))] ^= 1 << draw.randrange(8)
        (run / "digest.json").write_bytes(data)
        assert read_digest(run) in (None, kept)  # never figures that were not written
    for old, new in (
        (b'"detail":', b'"letail":'),
        (b'"missing_s":0.0', b'"missing_s":9.0'),
        (b'"crc32":', b'"crc33":'),
    ):
        assert whole.count(old)
        (run / "digest.json").write_bytes(whole.replace(old, new, 1))
        assert read_digest(run) is None
    assert main([str(run)]) == 0
    assert read_digest(run) == kept
    assert kept is not None
    for said in ({}, {"evidence": [], "missing_s": 1.0}, {"evidence": {}, "missing_s": "1"}):
        write_digest(run, {"format": kept["format"], **said})
        assert read_so_far(run) is None  # whole, but nothing that a run could go on from


def test_so_many_changes_of_settings_are_kept_and_no_more() -> None:
    digest = Digest()
    for k in range(3 * CHANGES_MAX):
        digest.take(Entry(Kind.SETTINGS, float(k), b"[rig]"), None, None)
    assert len(digest.record()["settings"]) == CHANGES_MAX


def test_the_first_and_the_newest_events_are_kept_and_all_are_counted() -> None:
    digest = Digest()
    for k in range(5000):
        digest.take(Entry(Kind.CHUNK, float(k), b""), Output(events=(Event("power_on", float(k), "On"),)), None)
        digest.take(Entry(Kind.MARK, float(k), f"mark {k}".encode()), None, None)
    told = digest.record()
    marks = [each["text"] for each in told["events"] if each["kind"] == "mark"]
    assert (len(told["events"]), told["events_count"]) == (EVENTS_MAX, 10_000)
    assert (marks[:2], marks[-1]) == (["mark 0", "mark 1"], "mark 4999")
    assert told["evidence"]["events"]["power_on"][0] == 5000


@pytest.mark.parametrize("seed", range(5))
def test_the_overview_holds_lowest_and_highest_however_long_the_run_is(seed: int) -> None:
    draw = np.random.default_rng(seed)
    overview, times, values = (
        Overview(),
        draw.uniform(0.0, 10.0 ** draw.uniform(1.0, 4.5), 5000),
        draw.normal(size=5000),
    )
    times.sort()
    times += OPENED_UTC_S
    values[draw.integers(0, 5000, 100)] = np.nan
    for at in range(0, 5000, 20):
        overview.take(times[at : at + 20], values[at : at + 20])
    told = overview.record()
    assert told is not None
    assert len(told["low"]) <= COLUMNS_MAX
    known = ~np.isnan(values)
    columns = ((times[known] - told["from_utc_s"]) / told["column_s"]).astype(int)
    for column in np.unique(columns)[1:-1]:  # the time of the first row is rounded: those beside an edge may move
        inside = values[known][columns == column]
        near = values[known][np.abs(columns - column) <= 1]
        assert near.min() - 1e-3 <= told["low"][column] <= inside.max() + 1e-3
        assert inside.min() - 1e-3 <= told["high"][column] <= near.max() + 1e-3
    shown = [each for each in told["low"] if each is not None]
    assert min(shown) == pytest.approx(np.nanmin(values), rel=1e-3)
    assert max(each for each in told["high"] if each is not None) == pytest.approx(np.nanmax(values), rel=1e-3)
