"""A repair keeps what can be read and the damaged file too, and is whole whenever it ends."""

import os
from pathlib import Path

import pytest

from server.commands.repair import main
from server.runs.layout import Entry, Unreadable
from server.runs.pack import pack_segment
from server.runs.repair import damaged_segments, repair
from server.runs.replay import recorded
from server.runs.segments import entries
from tests.server.runs.recordings import segment_bytes

DAMAGE_AT = 60_000


@pytest.fixture(params=["plain", "packed"])
def run(tmp_path: Path, request: pytest.FixtureRequest) -> Path:
    """A closed run with damage in its one segment."""
    folder = tmp_path / "20261125-1402-bench"
    folder.mkdir()
    plain = folder / "0001.run"
    plain.write_bytes(segment_bytes(12.0))
    if request.param == "packed":
        pack_segment(plain)
    (path,) = folder.iterdir()
    data = bytearray(path.read_bytes())
    at = min(DAMAGE_AT, len(data) // 2)
    data[at : at + 30] = bytes(30)
    path.write_bytes(data)
    return folder


def readable(run: Path) -> list[Entry]:
    return [each for each in recorded(run) if isinstance(each, Entry)]


def test_what_can_be_read_stands_in_a_fresh_segment_and_the_damaged_one_beside(run: Path) -> None:
    (path,) = run.iterdir()
    damaged, before = path.read_bytes(), readable(run)
    (found,), open_one = damaged_segments(run)
    assert open_one is None
    assert (found.path, found.places, found.readable) == (path, 1, len(before))
    aside = repair(path)
    assert aside.read_bytes() == damaged
    assert sorted(each.name for each in run.iterdir()) == ["0001.damaged-1", "0001.run"]
    assert readable(run) == before
    assert not any(isinstance(each, Unreadable) for each in entries(run / "0001.run"))
    assert damaged_segments(run) == ([], None)
    said = [each for each in recorded(run) if isinstance(each, str)]
    assert len(said) == 1
    assert said[0].endswith(" entries before this one are missing"), "what is lost is still told"
    pack_segment(run / "0001.run")
    assert readable(run) == before


@pytest.mark.parametrize("call", ["link", "replace", "unlink"])
def test_wherever_it_is_cut_off_the_run_reads_as_before_and_a_second_repair_finishes(
    run: Path, call: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    (path,) = run.iterdir()
    before = readable(run)

    def refused(*given: object, **more: object) -> None:
        raise KeyboardInterrupt

    def refused_but_ours(path: Path, missing_ok: bool = False) -> None:
        if not missing_ok:
            raise KeyboardInterrupt

    with monkeypatch.context() as patched:
        patched.setattr(f"server.runs.repair.os.{call}", refused)
        if call == "unlink":
            patched.setattr(Path, "unlink", refused_but_ours)
        if path.suffix == ".packed" or call != "unlink":
            with pytest.raises(KeyboardInterrupt):
                repair(path)
        else:
            repair(path)
    assert readable(run) == before
    for found in damaged_segments(run)[0]:
        repair(found.path)
    assert readable(run) == before
    assert damaged_segments(run) == ([], None)


def test_without_links_the_damaged_file_is_copied(run: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (path,) = run.iterdir()
    damaged = path.read_bytes()

    def refused(*given: object) -> None:
        raise OSError(95, "Operation not supported")

    monkeypatch.setattr(os, "link", refused)
    assert repair(path).read_bytes() == damaged


def test_the_command_shows_first_then_does_and_says_when_nothing_is_damaged(
    run: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    names = [each.name for each in run.iterdir()]
    assert main([str(run)]) == 1
    told = capsys.readouterr()
    assert "bytes cannot be read behind 2026-11-25 14:02:0" in told.out
    assert told.err.startswith("Nothing was changed. --do puts a segment of what can be read")
    assert [each.name for each in run.iterdir()] == names
    assert main([str(run), "--do"]) == 0
    assert "Repaired; the damaged file is kept as 0001.damaged-1." in capsys.readouterr().err
    assert main([str(run), "--json"]) == 0
    assert capsys.readouterr() == ("", "Nothing is damaged.\n")
    assert main([str(run / "not there")]) == 1


def test_the_last_segment_of_an_open_run_is_left_alone(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "20261125-1402-bench"
    folder.mkdir()
    (folder / "0001.run").write_bytes(segment_bytes(2.0)[:-500])
    assert main([str(folder)]) == 0
    assert capsys.readouterr().err.startswith("0001.run was not looked at: the run is open")
