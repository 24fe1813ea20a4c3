"""Folders are the truth, the catalogue follows them."""

import json
import math
import sqlite3
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from server.runs.layout import Entry, Kind, record
from server.runs.library import CATALOGUE, RECEIVED, Library, RunSummary, summary_of


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
VIEW = (
    "VIEW runs AS SELECT 'x' AS name, 'x' AS rig, 'x' AS serial, 1.0 AS opened_utc_s, NULL AS closed_utc_s,"
    " 'x' AS reason, 0 AS received"
)


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
    assert "database is locked" in library.remade
    library.close()
    other.execute("ROLLBACK")
    other.close()
    assert [path.name for path in tmp_path.iterdir() if path.is_file()] == [CATALOGUE]


def test_a_catalogue_that_cannot_be_opened_now_stays_and_the_terminal_is_told(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    folder(tmp_path, CLOSED.name, OPEN, CHUNK, CLOSE)
    Library(tmp_path).close()
    journal = tmp_path / f"{CATALOGUE}-journal"
    journal.mkdir()  # where the file of a transaction would be
    library = Library(tmp_path)
    assert library.runs() == [CLOSED]
    assert "could not be opened" in library.remade
    assert library.remade in caplog.text
    library.close()
    journal.rmdir()
    assert [path.name for path in tmp_path.iterdir() if path.is_file()] == [CATALOGUE]


@pytest.mark.parametrize("begin", ["BEGIN IMMEDIATE", "BEGIN"])
def test_a_catalogue_that_can_only_be_read_while_another_program_looks_at_it_is_left_to_it(
    tmp_path: Path, begin: str
) -> None:
    folder(tmp_path, CLOSED.name, OPEN, CHUNK)
    Library(tmp_path).close()
    other = sqlite3.connect(tmp_path / CATALOGUE, isolation_level=None)
    other.execute(begin)
    other.execute("SELECT * FROM runs").fetchall()
    library = Library(tmp_path)
    library.closed(CLOSED.name, CLOSE.utc_s, CLOSE.text)
    assert library.runs() == [CLOSED]
    assert "could not be used (database is locked)" in library.remade
    library.close()
    other.close()
    assert [path.name for path in tmp_path.iterdir() if path.is_file()] == [CATALOGUE]


@pytest.mark.parametrize("how", ["locked", "rubbish"])
def test_a_catalogue_that_is_spoilt_or_held_while_it_is_used_hides_no_run(tmp_path: Path, how: str) -> None:
    folder(tmp_path, CLOSED.name, OPEN, CHUNK, CLOSE)
    library = Library(tmp_path)
    other = sqlite3.connect(tmp_path / CATALOGUE, isolation_level=None)
    if how == "locked":
        other.execute("BEGIN EXCLUSIVE")
    else:
        (tmp_path / CATALOGUE).write_bytes(b"x" * 5000)
    assert library.runs() == [CLOSED]
    assert library.newest("bench") == CLOSED
    library.opened("20261125-1500-bench", "bench", "T-2", CLOSE.utc_s)
    assert [run.serial for run in library.runs()] == ["T-2", "T-1"]
    library.close()
    other.close()


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("opened_utc_s", "abc"),
        ("closed_utc_s", "abc"),
        ("serial", b"abc"),
        ("received", 2),
        ("opened_utc_s", math.inf),
        ("closed_utc_s", -math.inf),
    ],
)
def test_a_row_that_no_run_has_makes_a_catalogue_broken(tmp_path: Path, column: str, value: object) -> None:
    folder(tmp_path, CLOSED.name, OPEN, CHUNK, CLOSE)
    Library(tmp_path).close()
    with sqlite3.connect(tmp_path / CATALOGUE) as base:
        base.execute(f"UPDATE runs SET {column} = ?", (value,))
    base.close()
    library = Library(tmp_path)
    assert library.runs() == [CLOSED]
    library.close()


@pytest.mark.parametrize("made", ["TABLE runs (name, rig, serial, opened_utc_s, closed_utc_s, reason)", VIEW])
def test_a_catalogue_with_another_table_is_set_aside(tmp_path: Path, made: str) -> None:
    folder(tmp_path, CLOSED.name, OPEN, CHUNK, CLOSE)
    with sqlite3.connect(tmp_path / CATALOGUE) as base:
        base.execute(f"CREATE {made}")
        base.execute("PRAGMA user_version = 2")
    base.close()
    assert library_runs(tmp_path) == [CLOSED]
    assert (tmp_path / "catalogue.broken-1").exists()


def test_a_catalogue_that_does_not_know_which_runs_were_received_is_filled_anew(tmp_path: Path) -> None:
    (folder(tmp_path, CLOSED.name, OPEN, CHUNK, CLOSE) / RECEIVED).touch()
    with sqlite3.connect(tmp_path / CATALOGUE) as base:
        base.execute("CREATE TABLE runs (name, rig, serial, opened_utc_s, closed_utc_s, reason)")
        base.execute("PRAGMA user_version = 1")
    base.close()
    (run,) = library_runs(tmp_path)
    assert run == replace(CLOSED, received=True)
    assert (run.is_of("bench"), CLOSED.is_of("bench")) == (False, True)
    assert not (tmp_path / "catalogue.broken-1").exists()


@pytest.mark.parametrize("utc_s", [math.nan, math.inf, -1.0, 1e300])
def test_a_run_that_says_it_opened_at_no_time_has_that_of_its_name(tmp_path: Path, utc_s: float) -> None:
    folder(tmp_path, CLOSED.name, Entry(Kind.OPEN, utc_s, OPEN.payload), CHUNK, Entry(Kind.CLOSE, utc_s, b"x"))
    minute = 1_795_615_320.0
    assert library_runs(tmp_path) == [RunSummary(CLOSED.name, "bench", "T-1", minute, minute, "x")]


@pytest.mark.parametrize(("said", "serial"), [(b'{"serial": "T\\ud800"}', "T?"), (b"[" * 100_000, ""), (b"[]", "")])
def test_whatever_a_run_says_of_itself_it_is_listed(tmp_path: Path, said: bytes, serial: str) -> None:
    folder(tmp_path, CLOSED.name, Entry(Kind.OPEN, OPEN.utc_s, said))
    assert library_runs(tmp_path) == [RunSummary(CLOSED.name, "bench", serial, OPEN.utc_s)]


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


def test_where_catalogue_and_folders_cannot_be_read_it_is_told_each_time_until_they_can(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder(tmp_path, CLOSED.name, OPEN, CHUNK, CLOSE)
    library = Library(tmp_path)
    library._base.execute("DROP TABLE runs")

    def refused(path: Path) -> Iterator[Path]:
        raise OSError(5, "Input/output error")

    with monkeypatch.context() as while_ill:
        while_ill.setattr(Path, "iterdir", refused)
        for _ in range(2):
            with pytest.raises(OSError, match="Input/output error"):
                library.runs()
    assert library.runs() == [CLOSED]
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
