"""Runs as a person looks for them: what was read stays until its file changes; what was left open is summed up."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from server.runs.beside import write_digest, write_note
from server.runs.library import Library
from server.runs.shelf import QUIET_S, Shelf
from server.runs.sum_up import summed_up
from tests.server.runs.recordings import recorded_run, segment_of

SHORT = ((0.4, 0.0, 0.0, 0.0),)


@pytest.fixture
def library(tmp_path: Path) -> Iterator[Library]:
    made = Library(tmp_path / "runs")
    yield made
    made.close()


def keep(library: Library, name: str) -> None:
    write_digest(library.folder / name, summed_up(library.folder / name))


def test_the_newest_run_is_summed_up_first_and_none_twice(library: Library) -> None:
    names = [recorded_run(library, rig, 1_795_615_320.0 + 60.0 * k, SHORT) for k, rig in enumerate("ab")]
    shelf, now_utc_s = Shelf(library), 0.0
    assert shelf.to_sum_up((), now_utc_s) == names[1]
    keep(library, names[1])
    assert shelf.to_sum_up((), now_utc_s) == names[0]
    assert shelf.to_sum_up((names[0],), now_utc_s) == ""  # that one could not be
    keep(library, names[0])
    assert shelf.to_sum_up((), now_utc_s) == ""


def test_a_run_that_was_left_open_is_summed_up_once_nothing_is_added_any_more(library: Library) -> None:
    name = recorded_run(library, story=SHORT, closed=False)
    written_s = segment_of(library, name).stat().st_mtime
    shelf = Shelf(library)
    assert shelf.to_sum_up((), written_s + QUIET_S / 2) == ""
    assert shelf.to_sum_up((), written_s + QUIET_S + 1.0) == name
    keep(library, name)
    assert shelf.to_sum_up((), written_s + QUIET_S + 1.0) == ""
    with segment_of(library, name).open("ab") as file:
        file.write(b"more")  # it went on: what was summed up is of the run before
    assert not shelf.is_summed_up(name)
    assert shelf.runs()[0].digest is None


def test_a_run_that_is_recorded_while_the_clock_is_set_is_not_taken_for_one_that_was_left(library: Library) -> None:
    name = recorded_run(library, story=SHORT, closed=False)
    shelf, an_hour_back_s = Shelf(library), segment_of(library, name).stat().st_mtime - 3600.0
    assert shelf.to_sum_up((), an_hour_back_s + 3600.0) == ""
    with segment_of(library, name).open("ab") as file:
        file.write(b"more")
    assert shelf.to_sum_up((), an_hour_back_s) == ""
    assert shelf.to_pack((), an_hour_back_s) is None
    assert Shelf(library).to_sum_up((), an_hour_back_s) == name  # who has not seen it grow has the dates alone


def test_a_note_and_a_run_in_short_of_later_are_seen_at_once(library: Library) -> None:
    name = recorded_run(library, story=SHORT)
    shelf = Shelf(library)
    assert (shelf.runs()[0].note, shelf.runs()[0].digest) == ("", None)
    write_note(library.folder / name, "new wheel")
    keep(library, name)
    (run,) = shelf.runs("NEW fan")
    assert run.note == "new wheel"
    assert run.digest is not None


def test_hundreds_of_runs_are_found_again_without_reading_their_files(
    library: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    name = recorded_run(library, story=SHORT)
    keep(library, name)
    shelf = Shelf(library)
    shelf.runs()

    def refused(*given: object) -> None:
        raise AssertionError("a file was read again")

    monkeypatch.setattr("server.runs.shelf.read_digest", refused)
    monkeypatch.setattr("server.runs.shelf.read_note", refused)
    assert [run.summary.name for run in shelf.runs("fan")] == [name]


def test_one_run_with_strange_files_is_told_and_ends_neither_the_list_nor_the_work_on_others(library: Library) -> None:
    names = [recorded_run(library, rig, 1_795_615_320.0 + 60.0 * k, SHORT) for k, rig in enumerate("ab")]
    run, shelf = library.folder / names[1], Shelf(library)
    found = summed_up(run)
    for key, value in (
        ("events", 5),
        ("events", [{"text": "Stalled"}]),
        ("source", None),
        ("evidence", {"verdicts": {"locked": 1}}),
    ):
        write_digest(run, {**found, key: value})  # with a checksum that is right
        assert [(each.summary.name, "cannot be read (" in each.trouble) for each in shelf.runs()] == [
            (names[1], True),
            (names[0], False),
        ]
        assert shelf.to_sum_up((), 0.0) == names[0]
    write_digest(run, found)
    assert [each.trouble for each in shelf.runs("fan")] == [""]
