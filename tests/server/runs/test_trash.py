"""Deleted runs: put aside, brought back whole, removed for good only when their time has come or a person says so."""

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from server.runs.beside import write_note
from server.runs.library import Library
from server.runs.trash import KEPT_S, Trash
from tests.server.runs.recordings import OPENED_UTC_S, recorded_run, segment_of

NOW_UTC_S = OPENED_UTC_S + 1000.0
SHORT = ((0.4, 0.0, 0.0, 0.0),)


@pytest.fixture
def library(tmp_path: Path) -> Iterator[Library]:
    made = Library(tmp_path / "runs")
    yield made
    made.close()


def names(library: Library) -> list[str]:
    return [run.name for run in library.runs()]


def test_a_deleted_run_comes_back_byte_for_byte_with_its_note(library: Library) -> None:
    name, trash = recorded_run(library, story=SHORT), Trash(library)
    write_note(library.folder / name, "old wheel")
    before, summary = segment_of(library, name).read_bytes(), library.runs()
    trash.delete(name, NOW_UTC_S)
    assert names(library) == []
    (deleted,) = trash.runs()
    assert (deleted.run, deleted.deleted_utc_s, deleted.removed_utc_s) == (summary[0], NOW_UTC_S, NOW_UTC_S + KEPT_S)
    trash.undo(name)
    assert library.runs() == summary
    assert segment_of(library, name).read_bytes() == before
    assert (library.folder / name / "note.txt").read_text() == "old wheel"
    assert trash.runs() == []


def test_a_deletion_holds_over_a_new_start_and_a_lost_catalogue(library: Library) -> None:
    name = recorded_run(library, story=SHORT)
    Trash(library).delete(name, NOW_UTC_S)
    (library.folder / "catalogue.sqlite").unlink()
    again = Library(library.folder)
    assert names(again) == []
    assert [each.run.name for each in Trash(again).runs()] == [name]
    again.close()


@pytest.mark.parametrize("act", ["delete", "undo"])
def test_of_two_at_once_one_is_done_and_the_other_finds_nothing(library: Library, act: str) -> None:
    name, trash = recorded_run(library, story=SHORT), Trash(library)
    if act == "undo":
        trash.delete(name, NOW_UTC_S)

    def once(k: int) -> str:
        try:
            trash.delete(name, NOW_UTC_S + k) if act == "delete" else trash.undo(name)
        except OSError as error:
            return type(error).__name__
        return "done"

    with ThreadPoolExecutor(4) as pool:
        said = list(pool.map(once, range(4)))
    assert said.count("done") == 1, said
    assert set(said) <= {"done", "FileNotFoundError", "FileExistsError"}
    assert names(library) == ([] if act == "delete" else [name])


def test_a_run_that_opens_in_the_same_minute_leaves_the_place_of_a_deleted_one_free(library: Library) -> None:
    name, trash = recorded_run(library, story=SHORT), Trash(library)
    trash.delete(name, NOW_UTC_S)
    assert recorded_run(library, story=SHORT) == f"{name}-2"
    trash.undo(name)
    assert sorted(names(library)) == [name, f"{name}-2"]


def test_nothing_is_removed_before_its_time_and_then_only_what_is_due(library: Library) -> None:
    first, second = (recorded_run(library, rig, story=SHORT) for rig in ("a", "b"))
    trash = Trash(library)
    trash.delete(first, NOW_UTC_S)
    trash.delete(second, NOW_UTC_S + 100.0)
    assert trash.remove_overdue(NOW_UTC_S + KEPT_S - 1.0) == []
    assert trash.remove_overdue(NOW_UTC_S + KEPT_S) == [first]
    assert [each.run.name for each in trash.runs()] == [second]
    assert trash.empty() == 1
    assert trash.runs() == []


def test_only_the_run_that_is_named_is_removed_for_good(library: Library) -> None:
    first, second = (recorded_run(library, rig, story=SHORT) for rig in ("a", "b"))
    trash = Trash(library)
    for name in (first, second):
        trash.delete(name, NOW_UTC_S)
    assert trash.empty(first) == 1
    assert [each.run.name for each in trash.runs()] == [second]


@pytest.mark.parametrize(
    "name", ["", ".", "..", "../runs", "deleted", "catalogue.sqlite", "/etc", "20261125-1402-x/..", "no"]
)
def test_a_name_that_no_run_has_moves_nothing(library: Library, name: str) -> None:
    kept, trash = recorded_run(library, story=SHORT), Trash(library)
    before = sorted(path.name for path in library.folder.parent.rglob("*"))
    with pytest.raises(FileNotFoundError):
        trash.delete(name, NOW_UTC_S)
    with pytest.raises(FileNotFoundError):
        trash.undo(name)
    assert names(library) == [kept]
    assert sorted(path.name for path in library.folder.parent.rglob("*")) == before


def test_strange_things_in_the_folder_of_deleted_runs_are_left_alone(library: Library) -> None:
    trash = Trash(library)
    trash.delete(recorded_run(library, story=SHORT), NOW_UTC_S)
    (library.folder / "deleted" / "notes of mine").mkdir()
    (library.folder / "deleted" / "20261125-1402-x.12345").write_text("a file")
    trash.empty()
    left = sorted(path.name for path in (library.folder / "deleted").iterdir())
    assert left == ["20261125-1402-x.12345", "notes of mine"]
