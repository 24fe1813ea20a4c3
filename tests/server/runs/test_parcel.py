"""A run goes as one file from one PC to another, and a file that was made to do harm does none."""

import json
import os
import subprocess
import sys
import time
import zipfile
from collections.abc import Callable
from dataclasses import replace
from hashlib import sha256
from itertools import chain
from pathlib import Path
from random import Random
from typing import Any

import pytest

from server.commands.receive import main as receive_command
from server.commands.send import main as send_command
from server.runs.beside import read_note, write_note
from server.runs.checks import add_check, read_check
from server.runs.held_folder import LOCK, HeldFolder
from server.runs.library import Library
from server.runs.log.reading import LogReader
from server.runs.log.store import Store
from server.runs.pack import pack_segment
from server.runs.parcel import MANIFEST, ParcelError, ThereAlreadyError, receive, send
from server.runs.replay import recorded
from server.runs.segments import segments
from server.runs.thin import thin_segment
from server.whole_file import sync_files
from tests.server.runs.recordings import segment_bytes
from tests.server.tiny_board import TinyBoard

NAME = "20261125-1402-bench"
NOTE = "Größe „M“\nthird try; =1+1 \U0001f6e0"


@pytest.fixture
def run(tmp_path: Path) -> Path:
    folder = tmp_path / "here" / "runs" / NAME
    folder.mkdir(parents=True)
    (folder / "0001.run").write_bytes(segment_bytes(2.0))
    write_note(folder, NOTE)
    add_check(folder, {"verdict": "good"})
    (folder / "log.sqlite").write_bytes(b"made again")
    return folder


def test_a_run_comes_over_with_its_notes_and_checks_and_is_listed(run: Path, tmp_path: Path) -> None:
    file = tmp_path / "to „send“ & more ü.slipring"
    assert send(run, file) == file.stat().st_size
    assert not list(tmp_path.glob(".sending*"))
    there = receive(file, tmp_path / "there" / "runs")
    assert there.name == NAME
    assert list(recorded(there)) == list(recorded(run))
    assert read_note(there) == NOTE
    check = read_check(there, 1)
    assert check is not None
    assert check["verdict"] == "good"
    assert not (there / "log.sqlite").exists()
    library = Library(there.parent)
    assert [(each.name, each.serial) for each in library.runs()] == [(NAME, "T-1")]
    library.close()
    with pytest.raises(ThereAlreadyError, match=f"{NAME}$"):
        receive(file, there.parent)
    assert receive(file, there.parent, copy=True).name == f"{NAME}-2", "the one that is there stays"
    (run / "0001.run").write_bytes(segment_bytes(2.0, replace(TinyBoard(), serial="T-2")))
    send(run, tmp_path / "other.slipring")
    assert receive(tmp_path / "other.slipring", there.parent).name == f"{NAME}-3", "another run of that name"
    assert [each.name for each in there.parent.glob(".*")] == []


@pytest.mark.parametrize(("at_once", "batches"), [(1 << 20, 1), (1, 2)])
def test_small_files_are_synced_together_all_of_them_before_the_run_is_listed(
    run: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, at_once: int, batches: int
) -> None:
    for number in range(2, 40):
        (run / f"{number:04d}.run").touch()
    send(run, tmp_path / "sent.slipring")
    synced, listed, of_files, fsync = list[list[str]](), list[Path](), list[int](), os.fsync

    def sync(paths: list[Path]) -> None:
        assert not (tmp_path / "runs" / NAME).exists()
        before = len(of_files)
        sync_files(paths)
        assert len(of_files) - before == len(paths)
        synced.append([path.name for path in paths])

    def synced_one(handle: int) -> None:
        fsync(handle)
        of_files.append(handle)

    def listing(folder: Path) -> list[str]:
        listed.append(folder)
        return os.listdir(folder)

    monkeypatch.setattr("server.whole_file.os.fsync", synced_one)
    monkeypatch.setattr("server.runs.parcel._SYNC_BYTES", at_once)
    monkeypatch.setattr("server.runs.parcel.sync_files", sync)
    monkeypatch.setattr("server.runs.thinned_run.listdir", listing)
    there = receive(tmp_path / "sent.slipring", tmp_path / "runs")
    assert sorted(chain(*synced)) == sorted({path.name for path in there.iterdir()} - {"received"})
    assert (len(synced) >= batches, len(listed)) == (True, 1), "its folder is looked at once, not for each file"


def test_of_a_thinned_run_the_log_goes_along_as_nobody_can_make_it_again(run: Path, tmp_path: Path) -> None:
    (run / "log.sqlite").unlink()
    store = Store(run / "log.sqlite")
    store.write({"events": [(7, 1_795_615_330.0, 0.0, "start", "{}")]}, {})
    (run / "0001.run").write_bytes(segment_bytes(16.0))
    pack_segment(run / "0001.run")
    send(run, tmp_path / "whole.slipring")
    assert not (receive(tmp_path / "whole.slipring", tmp_path / "there") / "log.sqlite").exists()
    assert thin_segment(run / "0001.packed", [], "nothing", 1_795_700_000.0)
    send(run, tmp_path / "thinned.slipring")  # while it is written
    store.close()
    there = receive(tmp_path / "thinned.slipring", tmp_path / "there", copy=True)
    with LogReader(there) as log:
        assert [each["number"] for each in log.told("events", 0.0, 1e11)] == [7]
    assert not list(there.glob("log.sqlite-*"))


def test_an_open_run_that_came_from_another_pc_is_not_gone_on_with(run: Path, tmp_path: Path) -> None:
    whole = (run / "0001.run").read_bytes()
    (run / "0001.run").write_bytes(whole[: len(whole) // 2])
    send(run, tmp_path / "open.slipring")
    receive(tmp_path / "open.slipring", tmp_path / "there")
    there, here = Library(tmp_path / "there"), Library(run.parent)
    assert [each.closed_utc_s for each in there.runs()] == [None]
    assert (there.left_open("bench"), there.newest("bench")) == (None, None)
    left = here.left_open("bench")
    assert left is not None
    assert left.name == NAME
    for library in (there, here):
        library.close()


def test_a_folder_that_was_copied_away_is_read_with_its_folder_alone(run: Path, tmp_path: Path) -> None:
    elsewhere = run.rename(tmp_path / "on a stick")
    assert len([each for each in recorded(elsewhere) if not isinstance(each, str)]) > 40


def test_the_commands_send_and_take_in(run: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file, data = tmp_path / "one.slipring", tmp_path / "other"
    assert send_command([NAME, str(file), "--data", str(tmp_path / "here")]) == 0
    assert send_command([str(run), str(file)]) == 1
    assert "one.slipring cannot be read or written: there is such a file already" in capsys.readouterr().err
    data.mkdir()
    assert receive_command([str(file), "--data", str(data)]) == 0
    assert capsys.readouterr().out == f"{data / 'runs' / NAME}\n"
    assert receive_command([str(file), "--data", str(data)]) == 1
    assert f"this run is there already: {data / 'runs' / NAME}; --copy takes it in" in capsys.readouterr().err
    assert send_command([str(data)]) == 1
    assert "slipring: there is no recording in" in capsys.readouterr().err
    assert receive_command([str(tmp_path / "none"), "--data", str(data)]) == 1
    assert "none cannot be read or written: No such file" in capsys.readouterr().err
    made(file, {"0001.run": b"x"}, lambda said: said.update(format=2))
    assert receive_command([str(file), "--data", str(data)]) == 1
    assert "sent by a newer Slipring; install the newer Slipring here." in capsys.readouterr().err
    file.write_bytes(b"rubbish")
    assert receive_command([str(file), "--data", str(data)]) == 1
    assert "was not taken in: it is no file of a run, or it is damaged" in capsys.readouterr().err


def made(
    path: Path, files: dict[str, bytes], change: Callable[[dict[str, Any]], None], how: int = zipfile.ZIP_STORED
) -> Path:
    """A file like one of ours, but for what is changed."""
    said: dict[str, Any] = {"format": 1, "run": NAME}
    said["files"] = [{"name": name, "sha256": sha256(data).hexdigest()} for name, data in files.items()]
    change(said)
    with zipfile.ZipFile(path, "w", how) as parcel:
        for name, data in files.items():
            parcel.writestr(name, data)
        parcel.writestr(MANIFEST, json.dumps(said))
    return path


def nothing(said: dict[str, Any]) -> None:
    """As it should be."""


TRAVERSALS = ["../0001.run", "/etc/0001.run", "a/0001.run", "0001.run/..", "..\\0001.run", "C:0001.run", "0001.run "]
TRAVERSALS += ["CON", "note.txt/../../x", "0001.run\u202e", "catalogue.sqlite", ".", "%2e%2e%2f0001.run"]


@pytest.mark.parametrize("name", TRAVERSALS)
def test_a_name_that_no_run_holds_is_refused(tmp_path: Path, name: str) -> None:
    file = made(tmp_path / "x", {"0001.run": segment_bytes(0.5), name: b"x"}, nothing)
    with pytest.raises(ParcelError, match=r"is no file of a run|other files than it says"):
        receive(file, tmp_path / "runs")
    assert list((tmp_path / "runs").iterdir()) == []


def renamed(name: object) -> Callable[[dict[str, Any]], None]:
    return lambda said: said.update(run=name)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (renamed("../x"), "which run"),
        (renamed("deleted"), "which run"),
        (renamed("20261125-1402-" + "a" * 300), "which run"),
        (renamed(7), "which run"),
        (lambda said: said.update(format=0), "another format"),
        (lambda said: said.update(format=2), "by a newer Slipring"),
        (lambda said: said.update(format=[1]), "another format"),
        (lambda said: said.update(files="x"), "which run"),
        (lambda said: said["files"].append({"name": "0002.run"}), "other files"),
        (lambda said: said["files"][0].update(sha256="00"), "0001.run in it was changed on the way"),
        (lambda said: said["files"].clear(), "no recording in it"),
    ],
)
def test_a_manifest_that_is_no_ours_is_refused(
    tmp_path: Path, change: Callable[[dict[str, Any]], None], words: str
) -> None:
    with pytest.raises(ParcelError, match=words):
        receive(made(tmp_path / "x", {"0001.run": b"abc"}, change), tmp_path / "runs")
    assert list((tmp_path / "runs").iterdir()) == []


def test_a_bomb_is_refused_before_it_goes_off(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    packed = made(tmp_path / "x", {"0001.run": bytes(10_000_000)}, nothing, zipfile.ZIP_DEFLATED)
    with pytest.raises(ParcelError, match="more than it is long"):
        receive(packed, tmp_path / "runs")
    small = made(tmp_path / "y", {"0001.run": Random(1).randbytes(9000)}, nothing, zipfile.ZIP_BZIP2)
    with pytest.raises(ParcelError, match="compressed or encrypted"):
        receive(small, tmp_path / "runs")
    monkeypatch.setattr("server.runs.parcel.FILES_MAX", 3)
    many = made(tmp_path / "z", {f"000{k}.run": b"x" for k in range(1, 5)}, nothing)
    with pytest.raises(ParcelError, match="5 files, at most 3"):
        receive(many, tmp_path / "runs")
    monkeypatch.setattr("server.runs.parcel.SEGMENT_READ_BYTES_MAX", 10)
    with pytest.raises(ParcelError, match="a segment in it is longer than"):
        receive(made(tmp_path / "v", {"0001.run": b"x" * 11}, nothing), tmp_path / "runs")
    free = [0.5e9, 1e10]  # of 10 GB, 5 % are kept
    monkeypatch.setattr("server.runs.parcel.free_and_total", lambda folder: free)
    with pytest.raises(OSError, match="no room"):
        receive(made(tmp_path / "w", {"0001.run": b"x"}, nothing), tmp_path / "runs")
    assert list((tmp_path / "runs").iterdir()) == []


def test_what_a_kill_left_of_a_run_that_was_sent_or_taken_in_is_removed_by_the_next_and_by_a_start(
    run: Path, tmp_path: Path
) -> None:
    runs, file = tmp_path / "runs", tmp_path / "x.slipring"
    runs.mkdir()
    send(run, file)
    theirs = tmp_path / ".sending-letters"
    theirs.mkdir()

    def left(prefix: str, beside: Path, ago_s: float = 60.0) -> Path:
        code = (
            "import os, signal; from pathlib import Path; from server.runs.held_folder import HeldFolder;"
            f" print(HeldFolder({prefix!r}, Path({str(beside)!r})).path, flush=True);"
            " os.kill(os.getpid(), signal.SIGKILL)"
        )
        path = Path(subprocess.run([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True).stdout.strip())
        (path / "0001.run").write_bytes(b"half")
        os.utime(path / LOCK, (time.time() - ago_s,) * 2)
        return path

    with HeldFolder(".receiving-", runs) as other:  # by a receive that goes on
        os.utime(other.path / LOCK, (time.time() - 60.0,) * 2)
        old = left(".receiving-", runs)
        assert receive(file, runs).name == NAME
        assert (old.exists(), other.path.exists()) == (False, True)
        assert not (runs / NAME / LOCK).exists()
        old, new = left(".receiving-", runs), left(".receiving-", runs, 0.0)
        Library(runs).close()
        assert (old.exists(), new.exists(), other.path.exists()) == (False, True, True)
    old = left(".sending-", tmp_path)
    send(run, tmp_path / "y.slipring")
    assert (old.exists(), theirs.exists()) == (False, True)


@pytest.mark.parametrize("seed", range(3))
def test_a_file_that_was_damaged_on_the_way_is_refused_or_whole(run: Path, tmp_path: Path, seed: int) -> None:
    draw, file = Random(seed), tmp_path / "one.slipring"
    send(run, file)
    whole, before = file.read_bytes(), list(recorded(run))
    for _ in range(25):
        broken = bytearray(whole[: draw.choice((len(whole), draw.randrange(len(whole))))])
        if len(broken) > 1:
            broken[draw.randrange(len(broken))] ^= 1 << draw.randrange(8)
        file.write_bytes(broken)
        try:
            there = receive(file, tmp_path / "there")
        except ParcelError:
            continue
        assert list(recorded(there)) == before
        assert [path.name for path in segments(there)] == ["0001.run"]
    assert all(path.name.startswith(NAME) for path in (tmp_path / "there").iterdir())
