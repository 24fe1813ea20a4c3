"""A run that was left open goes on with numbers that no entry has, wherever its last segments were cut off."""

import json
from pathlib import Path
from random import Random

import pytest

from server.runs.layout import Entry, Kind, Numbered, record, segment_name
from server.runs.library import Library, summary_of
from server.runs.replay import recorded
from server.runs.segments import entries, segments
from server.runs.writer import Writer
from tests.server.runs.failing import Disk
from tests.server.runs.test_writer import CLOSE, OPEN, PLENTY, chunk

RUN = "20261125-1402-bench"
BEFORE = [OPEN, *map(chunk, range(19))]
AFTER = [Entry(Kind.MARK, 1_795_615_380.0, b"The service was started again"), *map(chunk, range(30, 40))]


def left(root: Path, *held: range, heads: tuple[int, ...], story: list[Entry] = BEFORE) -> Path:
    """A run of these segments: the numbers of the entries that each holds, and that of its head."""
    run = root / RUN
    run.mkdir(parents=True)
    for k, (numbers, head) in enumerate(zip(held, heads, strict=True), 1):
        said = {"format": 1, "run": RUN, "rig": "bench", "segment": k}
        first = record(head, Entry(Kind.SEGMENT, 0.0, json.dumps(said).encode()))
        (run / segment_name(k)).write_bytes(first + b"".join(record(number, story[number]) for number in numbers))
    return run


def continued(root: Path) -> None:
    library = Library(root)
    writer = Writer(library, "bench", Disk().open, lambda _: PLENTY, RUN)
    writer.step(AFTER, 100.0)
    writer.finish(101.0)
    library.close()


@pytest.mark.parametrize("again", range(10))
def test_what_was_written_again_after_a_failed_sync_may_be_cut_off_anywhere(tmp_path: Path, again: int) -> None:
    run = left(tmp_path, range(20), range(10, 10 + again), heads=(0, 20))
    continued(tmp_path)
    assert list(recorded(run)) == BEFORE + AFTER


def test_an_empty_segment_and_one_of_rubbish_are_passed_by(tmp_path: Path) -> None:
    run = left(tmp_path, range(20), range(10, 15), heads=(0, 20))
    (run / "0003.run").write_bytes(b"")
    (run / "0004.run").write_bytes(bytes(300_000))  # as some file systems leave what was not synced
    continued(tmp_path)
    assert [each for each in recorded(run) if isinstance(each, Entry)] == BEFORE + AFTER


def test_entries_that_a_power_cut_took_are_told_as_missing(tmp_path: Path) -> None:
    run = left(tmp_path, range(8), range(5, 12), heads=(0, 20))
    continued(tmp_path)
    assert list(recorded(run)) == [*BEFORE[:12], "0003.run: 8 entries before this one are missing", *AFTER]


def test_a_last_record_longer_than_the_stretch_that_is_looked_at_first_is_found(tmp_path: Path) -> None:
    story = [*BEFORE[:19], Entry(Kind.CHUNK, 1_795_615_340.0, bytes(3_000_000))]
    run = left(tmp_path, range(20), heads=(0,), story=story)
    continued(tmp_path)
    assert list(recorded(run)) == story + AFTER


def test_a_run_is_closed_if_its_end_stands_only_in_the_segment_whose_sync_failed(tmp_path: Path) -> None:
    run = left(tmp_path, range(20), range(10, 15), heads=(0, 20), story=[*BEFORE[:19], CLOSE])
    assert (summary_of(run).closed_utc_s, summary_of(run).reason) == (CLOSE.utc_s, "ended by a person")


@pytest.mark.parametrize("seed", range(80))
def test_however_the_disk_failed_before_the_service_was_killed_no_number_comes_twice(tmp_path: Path, seed: int) -> None:
    draw = Random(seed)
    disk = Disk(frozenset(k for k in range(5, 60) if draw.random() < 0.4), draw.random() < 0.7)
    library = Library(tmp_path)
    writer = Writer(library, "bench", disk.open, lambda _: PLENTY)
    for k, entry in enumerate(BEFORE[: draw.randrange(4, 21)]):
        writer.step([entry], 100.0 + 0.4 * k)
    library.close()
    if draw.random() < 0.5:
        disk.cut_power()
    run = tmp_path / RUN
    kept = [each for each in recorded(run) if isinstance(each, Entry)]
    continued(tmp_path)
    assert [each for each in recorded(run) if isinstance(each, Entry)] == kept + AFTER
    numbers: dict[int, Entry] = {}
    for each in (each for path in segments(run) for each in entries(path)):
        if isinstance(each, Numbered) and each.entry.kind is not Kind.SEGMENT:
            assert numbers.setdefault(each.number, each.entry) == each.entry
