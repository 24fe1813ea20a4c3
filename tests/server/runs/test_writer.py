"""Entries to segment files: nothing that was handed over is lost to a disk that fails and works again."""

import json
import shutil
from pathlib import Path
from random import Random

import pytest

from server.runs.layout import Entry, Kind
from server.runs.library import Library
from server.runs.replay import recorded
from server.runs.segments import entries, open_segment, segments
from server.runs.writer import Writer
from tests.server.runs.failing import Disk

PLENTY = (10**12, 10**13)
OPEN = Entry(Kind.OPEN, 1_795_615_320.0, json.dumps({"serial": "T-1", "reason": "test"}).encode())
CLOSE = Entry(Kind.CLOSE, 1_795_615_399.0, b"ended by a person")


def chunk(number: int) -> Entry:
    return Entry(Kind.CHUNK, 1_795_615_321.0 + number, Random(number).randbytes(50 + number))


STORY = [OPEN, Entry(Kind.BEGIN, 1_795_615_320.0, b"[rig]"), *map(chunk, range(12)), CLOSE]


def written(tmp_path: Path, disk: Disk, story: list[Entry] = STORY) -> tuple[Writer, Library]:
    """Give the entries one by one, a tenth of a second apart, then wait until the disk has taken them."""
    library = Library(tmp_path)
    writer, now_s = Writer(library, "bench", disk.open, lambda _: PLENTY), 100.0
    for entry in story:
        writer.step([entry], now_s)
        now_s += 0.1
    for _ in range(200):
        writer.step([], now_s)
        now_s += 1.0
    return writer, library


def test_a_run_is_a_folder_with_a_segment_that_holds_its_entries(tmp_path: Path) -> None:
    writer, library = written(tmp_path, Disk())
    (run,) = library.runs()
    assert (run.name, run.rig, run.serial) == ("20261125-1402-bench", "bench", "T-1")
    assert (run.closed_utc_s, run.reason) == (CLOSE.utc_s, "ended by a person")
    assert [path.name for path in segments(tmp_path / run.name)] == ["0001.run"]
    assert list(recorded(tmp_path / run.name)) == STORY
    assert (writer.writing.state, writer.writing.reason) == ("closed", "ended by a person")


def operations(tmp_path: Path) -> int:
    disk = Disk()
    written(tmp_path, disk)
    return disk.count


@pytest.mark.parametrize("half", [False, True], ids=["whole", "half"])
def test_whichever_operation_fails_every_entry_is_there_once_and_old_segments_are_untouched(
    tmp_path: Path, half: bool
) -> None:
    count = operations(tmp_path / "count")
    seen = set()
    for nth in range(1, count + 1):
        disk = Disk(frozenset([nth]), half)
        folder = tmp_path / str(nth)
        writer, library = written(folder, disk)
        (run,) = library.runs()
        kept = [each for each in recorded(folder / run.name) if isinstance(each, Entry)]
        assert kept == STORY, (nth, disk.failed)
        assert writer.writing.state == "closed"
        seen |= set(disk.failed)
    assert seen == {"open", "write", "sync", "close"}


@pytest.mark.parametrize("seed", range(20))
def test_a_disk_that_fails_again_and_again_loses_nothing_in_the_end(tmp_path: Path, seed: int) -> None:
    draw = Random(seed)
    disk = Disk(frozenset(k for k in range(1, 40) if draw.random() < 0.5), draw.random() < 0.5)
    writer, library = written(tmp_path, disk)
    (run,) = library.runs()
    assert [each for each in recorded(tmp_path / run.name) if isinstance(each, Entry)] == STORY
    assert writer.writing.state == "closed"


def test_while_it_fails_it_says_since_when_and_why(tmp_path: Path) -> None:
    disk = Disk(frozenset(range(5, 1000)))
    library = Library(tmp_path)
    writer = Writer(library, "bench", disk.open, lambda _: PLENTY)
    for k, entry in enumerate(STORY[:-1]):
        writer.step([entry], 100.0 + 0.1 * k)
    assert (writer.writing.state, writer.writing.reason) == ("failed", "No space left on device")
    assert writer.writing.run == "20261125-1402-bench"
    assert writer.writing.gap_since_utc_s in [entry.utc_s for entry in STORY]
    assert writer.waiting_bytes > 0


def test_a_power_cut_costs_no_more_than_what_came_since_the_last_sync(tmp_path: Path) -> None:
    for stop in range(2, 40):
        disk, folder = Disk(), tmp_path / str(stop)
        library = Library(folder)
        writer = Writer(library, "bench", disk.open, lambda _: PLENTY)
        story = [OPEN, *map(chunk, range(60))]
        for k, entry in enumerate(story[:stop]):
            writer.step([entry], 100.0 + 0.1 * k)
        disk.cut_power()
        kept = [each for each in recorded(folder / library.runs()[0].name) if isinstance(each, Entry)]
        assert kept == story[: len(kept)]
        assert stop - len(kept) <= 11  # entries of the last second


def test_a_run_that_was_left_open_goes_on_in_a_new_segment(tmp_path: Path) -> None:
    library = Library(tmp_path)
    first = Writer(library, "bench", Disk().open, lambda _: PLENTY)
    for k, entry in enumerate(STORY[:8]):
        first.step([entry], 100.0 + k)
    first.finish(200.0)
    before = {path: path.read_bytes() for path in segments(tmp_path / library.runs()[0].name)}
    left = library.left_open("bench")
    assert left is not None
    second = Writer(library, "bench", Disk().open, lambda _: PLENTY, left.name)
    second.step(STORY[8:9], 300.0)
    assert (second.writing.state, second.writing.since_utc_s) == ("recording", OPEN.utc_s)
    assert second.writing.gaps_s == STORY[8].utc_s - STORY[7].utc_s  # nothing was recorded between both
    second.step(STORY[9:], 301.0)
    assert (second.writing.state, second.writing.gaps_s) == ("closed", STORY[8].utc_s - STORY[7].utc_s)
    assert list(recorded(tmp_path / left.name)) == STORY
    assert {path: path.read_bytes() for path in before} == before
    assert library.left_open("bench") is None


def test_a_torn_last_record_does_not_keep_a_run_from_going_on(tmp_path: Path) -> None:
    library = Library(tmp_path)
    first = Writer(library, "bench", Disk().open, lambda _: PLENTY)
    first.step(STORY[:8], 100.0)
    first.finish(200.0)
    run = tmp_path / library.runs()[0].name
    (path,) = segments(run)
    path.write_bytes(path.read_bytes()[:-5])
    second = Writer(library, "bench", Disk().open, lambda _: PLENTY, run.name)
    second.step(STORY[8:], 300.0)
    kept = list(recorded(run))
    assert [each for each in kept if isinstance(each, Entry)] == STORY[:7] + STORY[8:]
    assert any(isinstance(each, str) and "hold no record" in each for each in kept)


def test_entries_of_no_run_are_dropped(tmp_path: Path) -> None:
    _, library = written(tmp_path, Disk(), [chunk(1), CLOSE, *STORY, chunk(3)])
    (run,) = library.runs()
    assert list(recorded(tmp_path / run.name)) == STORY


def test_two_runs_in_one_minute_have_folders_of_their_own(tmp_path: Path) -> None:
    _, library = written(tmp_path, Disk(), [*STORY, *STORY])
    assert sorted(run.name for run in library.runs()) == ["20261125-1402-bench", "20261125-1402-bench-2"]
    for run in library.runs():
        assert list(recorded(tmp_path / run.name)) == STORY


def test_a_disk_that_is_nearly_full_is_not_filled_and_recording_goes_on_when_there_is_room(tmp_path: Path) -> None:
    free = [(900_000_000, 10**12)]
    library = Library(tmp_path)
    writer = Writer(library, "bench", Disk().open, lambda _: free[0])
    for k, entry in enumerate(STORY[:-1]):
        writer.step([entry], 100.0 + k)
    assert writer.writing.state == "failed"
    assert writer.writing.reason == "only 900 MB are free on the disk, and 1000 MB are left untouched"
    assert library.runs() == []
    free[0] = PLENTY
    writer.step([CLOSE], 120.0)
    assert list(recorded(tmp_path / library.runs()[0].name)) == STORY


def test_what_is_written_when_the_disk_becomes_nearly_full_is_synced(tmp_path: Path) -> None:
    disk, free = Disk(), [PLENTY]
    library = Library(tmp_path)
    writer = Writer(library, "bench", disk.open, lambda _: free[0])
    writer.step(STORY[:5], 100.0)
    writer.step(STORY[5:8], 100.5)
    free[0] = (1, 10**12)
    writer.step(STORY[8:9], 103.0)
    assert writer.writing.state == "failed"
    disk.cut_power()
    assert list(recorded(tmp_path / library.runs()[0].name)) == STORY[:8]


def test_a_small_disk_keeps_5_percent_free(tmp_path: Path) -> None:
    writer = Writer(Library(tmp_path), "bench", Disk().open, lambda _: (60_000_000, 10**9))
    writer.step([*STORY], 100.0)
    assert writer.writing.state == "closed"


@pytest.mark.parametrize(("limit", "at_most"), [("SEGMENT_BYTES_MAX", 300), ("SEGMENT_S_MAX", 0.15)])
def test_segments_have_limits_and_their_heads_say_what_they_are(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, limit: str, at_most: float
) -> None:
    monkeypatch.setattr(f"server.runs.writer.{limit}", at_most)
    _, library = written(tmp_path, Disk())
    run = tmp_path / library.runs()[0].name
    assert len(segments(run)) > 2
    heads = [json.loads(next(iter(entries(path))).entry.text) for path in segments(run)]  # type: ignore[union-attr]
    assert [head["segment"] for head in heads] == list(range(1, len(heads) + 1))
    assert {(head["format"], head["run"], head["rig"]) for head in heads} == {(1, run.name, "bench")}
    assert list(recorded(run)) == STORY


def test_a_run_whose_folder_was_taken_away_goes_on_in_a_new_one(tmp_path: Path) -> None:
    disk, library, now_s = Disk(), Library(tmp_path), 100.0
    writer = Writer(library, "bench", disk.open, lambda _: PLENTY)
    states = set()
    for number, entry in enumerate(STORY[:-1]):
        if number == 6:
            shutil.rmtree(tmp_path / library.runs()[0].name)
        writer.step([entry], now_s)
        states.add(writer.writing.state)
        now_s += 3.0
    for _ in range(20):
        writer.step([], now_s)
        now_s += 3.0
    assert states == {"recording", "failed"}
    assert writer.writing.state == "recording"
    found = [each for each in recorded(tmp_path / library.runs()[0].name) if isinstance(each, Entry)]
    assert found == STORY[6:-1]


def test_while_no_segment_can_be_opened_for_sure_none_is_left_behind(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(folder: Path) -> None:
        raise OSError(24, "Too many open files")

    library, now_s = Library(tmp_path), 100.0
    writer = Writer(library, "bench", open_segment, lambda _: PLENTY)
    with monkeypatch.context() as patch:
        patch.setattr("server.runs.segments.sync_folder", fail)
        for entry in STORY[:-1]:
            writer.step([entry], now_s)
            now_s += 10.0
        assert writer.writing.state == "failed"
    writer.step(STORY[-1:], now_s)
    (run,) = (path for path in tmp_path.iterdir() if path.is_dir())
    assert [path.name for path in run.iterdir()] == ["0001.run"]
    assert list(recorded(run)) == STORY


def test_a_folder_that_cannot_be_synced_is_made_again_and_not_a_second_one_beside_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    library = Library(tmp_path)

    def fail(folder: Path) -> None:
        raise OSError(24, "Too many open files")

    with monkeypatch.context() as patch:
        patch.setattr("server.runs.library.sync_folder", fail)
        for _ in range(5):
            with pytest.raises(OSError, match="Too many open files"):
                library.create("bench", OPEN.utc_s)
    assert library.create("bench", OPEN.utc_s).name == "20261125-1402-bench"
    library.close()
