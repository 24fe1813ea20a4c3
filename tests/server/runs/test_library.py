"""Folders are the truth, the catalogue follows them."""

import json
import sqlite3
from pathlib import Path

import pytest

from server.runs.layout import Entry, Kind, record
from server.runs.library import CATALOGUE, Library, RunSummary, summary_of


def folder(root: Path, name: str, *entries: Entry, rig: str = "bench") -> Path:
    path = root / name
    path.mkdir(parents=True)
    head = Entry(Kind.SEGMENT, 0.0, json.dumps({"format": 1, "run": name, "rig": rig, "segment": 1}).encode())
    (path / "0001.run").write_bytes(record(0, head) + b"".join(record(k, entry) for k, entry in enumerate(entries)))
    return path


OPEN = Entry(Kind.OPEN, 1_795_615_330.5, json.dumps({"serial": "T-1", "reason": "x"}).encode())
CHUNK = Entry(Kind.CHUNK, 1_795_615_331.0, b"bytes")
CLOSE = Entry(Kind.CLOSE, 1_795_615_400.0, b"ended by a person")
CLOSED = RunSummary("20261125-1402-bench", "bench", "T-1", OPEN.utc_s, CLOSE.utc_s, "ended by a person")


def test_a_lost_catalogue_is_made_again_from_the_folders(tmp_path: Path) -> None:
    folder(tmp_path, CLOSED.name, OPEN, CHUNK, CLOSE)
    folder(tmp_path, "20261125-1500-a-rig-2", OPEN, CHUNK, rig="a-rig")
    library = Library(tmp_path)
    assert library.remade == "there was no catalogue"
    assert library.runs() == [RunSummary("20261125-1500-a-rig-2", "a-rig", "T-1", OPEN.utc_s), CLOSED]
    library.close()
    again = Library(tmp_path)
    assert again.remade == ""
    assert again.runs() == library_runs(tmp_path)


def library_runs(root: Path) -> list[RunSummary]:
    library = Library(root)
    try:
        return library.runs()
    finally:
        library.close()


@pytest.mark.parametrize("spoil", ["rubbish", "header", "version", "empty"])
def test_a_broken_catalogue_is_set_aside_and_made_again(tmp_path: Path, spoil: str) -> None:
    folder(tmp_path, CLOSED.name, OPEN, CHUNK, CLOSE)
    Library(tmp_path).close()
    path = tmp_path / CATALOGUE
    if spoil == "version":
        base = sqlite3.connect(path)
        base.execute("PRAGMA user_version = 77")
        base.close()
    else:
        data = path.read_bytes()
        path.write_bytes({"rubbish": b"x" * 5000, "header": b"y" * 100 + data[100:], "empty": b""}[spoil])
    library = Library(tmp_path)
    assert library.runs() == [CLOSED]
    assert (tmp_path / "catalogue.broken-1").exists() == (spoil != "empty")
    library.close()


def test_a_catalogue_that_another_program_holds_is_left_to_it(tmp_path: Path) -> None:
    folder(tmp_path, CLOSED.name, OPEN, CHUNK, CLOSE)
    Library(tmp_path).close()
    other = sqlite3.connect(tmp_path / CATALOGUE, isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    library = Library(tmp_path)
    assert library.runs() == [CLOSED]
    assert "held by another program" in library.remade
    library.close()
    other.execute("ROLLBACK")
    other.close()
    assert [path.name for path in tmp_path.iterdir() if path.is_file()] == [CATALOGUE]


@pytest.mark.parametrize("column", ["opened_utc_s", "closed_utc_s", "serial"])
def test_a_row_of_the_wrong_kind_makes_a_catalogue_broken(tmp_path: Path, column: str) -> None:
    folder(tmp_path, CLOSED.name, OPEN, CHUNK, CLOSE)
    Library(tmp_path).close()
    with sqlite3.connect(tmp_path / CATALOGUE) as base:
        base.execute(f"UPDATE runs SET {column} = ?", ("abc" if column != "serial" else b"abc",))
    base.close()
    library = Library(tmp_path)
    assert library.runs() == [CLOSED]
    library.close()


def test_where_no_name_is_left_to_set_a_broken_one_aside_it_stays(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("server.runs.library._ATTEMPTS_MAX", 3)
    folder(tmp_path, CLOSED.name, OPEN, CHUNK, CLOSE)
    for name in (CATALOGUE, "catalogue.broken-1", "catalogue.broken-2"):
        (tmp_path / name).write_bytes(b"x" * 5000)
    library = Library(tmp_path)
    assert library.runs() == [CLOSED]
    library.close()


def test_runs_that_a_person_removed_or_brought_are_seen(tmp_path: Path) -> None:
    path = folder(tmp_path, CLOSED.name, OPEN, CLOSE)
    Library(tmp_path).close()
    path.rename(tmp_path / "20261125-1402-other")
    assert [run.name for run in library_runs(tmp_path)] == ["20261125-1402-other"]


def test_a_close_that_only_the_folder_knows_is_found_at_the_next_start(tmp_path: Path) -> None:
    path = folder(tmp_path, CLOSED.name, OPEN, CHUNK)
    library = Library(tmp_path)
    assert library.left_open("bench") is not None
    library.close()
    with (path / "0001.run").open("ab") as file:
        file.write(record(2, CLOSE))
    assert library_runs(tmp_path) == [CLOSED]


def test_only_the_newest_run_of_a_rig_is_continued(tmp_path: Path) -> None:
    folder(tmp_path, "20261125-1402-bench", OPEN, CHUNK)
    folder(tmp_path, "20261125-1403-bench", Entry(Kind.OPEN, OPEN.utc_s + 60, OPEN.payload), CLOSE)
    library = Library(tmp_path)
    assert library.left_open("bench") is None
    assert library.left_open("other") is None
    library.close()


def test_a_folder_that_cannot_be_read_is_listed_with_what_its_name_says(tmp_path: Path) -> None:
    path = tmp_path / "20261125-1402-bench"
    path.mkdir()
    assert summary_of(path) == RunSummary("20261125-1402-bench", "bench", "", 1_795_615_320.0)
    (path / "0001.run").write_bytes(b"\xf0SLR rubbish")
    (path / "notes.txt").write_text("not ours")
    assert summary_of(path) == RunSummary("20261125-1402-bench", "bench", "", 1_795_615_320.0)


def test_other_folders_are_left_alone(tmp_path: Path) -> None:
    (tmp_path / "letters").mkdir(parents=True)
    assert library_runs(tmp_path) == []
    assert (tmp_path / "letters").is_dir()


def test_a_new_folder_is_private_and_never_an_old_one(tmp_path: Path) -> None:
    library = Library(tmp_path)
    paths = [library.create("bench", OPEN.utc_s) for _ in range(3)]
    assert [path.name for path in paths] == [
        "20261125-1402-bench",
        "20261125-1402-bench-2",
        "20261125-1402-bench-3",
    ]
    assert paths[0].stat().st_mode & 0o077 == 0
    library.close()
