"""What lies in a run's folder and is no file of ours: it is passed over, and nothing waits for it."""

import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from server.runs.beside import read_digest, read_note, read_tags
from server.runs.layout import Numbered, Records, Unreadable, is_run_name, segment_number
from server.runs.library import Library, RunSummary
from server.runs.segments import segments


def test_a_pipe_or_a_link_with_a_segments_name_is_none(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "0001.run")
    (tmp_path / "elsewhere").write_bytes(b"not ours")
    (tmp_path / "0002.run").symlink_to(tmp_path / "elsewhere")
    (tmp_path / "0003.run").write_bytes(b"")
    assert [path.name for path in segments(tmp_path)] == ["0003.run"]
    assert segment_number("000\u0664.run") is None  # an Arabic digit
    assert not is_run_name("2026112\u0665-1402-bench")


@pytest.mark.parametrize("name", ["0001.run", "0001.packed"])
def test_a_segment_that_was_made_long_and_holds_nothing_is_given_up_soon_and_its_run_is_listed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    run, fed, feed = tmp_path / "20261125-1402-bench", list[int](), Records.feed
    run.mkdir()
    (run / name).touch()
    os.truncate(run / name, 1 << 30)
    for module in ("segments", "packed_file"):
        monkeypatch.setattr(f"server.runs.{module}.SEGMENT_READ_BYTES_MAX", 16 << 20)

    def counted(self: Records, data: bytes) -> Iterator[Numbered | Unreadable]:
        fed.append(len(data))
        assert sum(fed) < 64 << 20  # else it goes on for a gigabyte
        return feed(self, data)

    monkeypatch.setattr(Records, "feed", counted)
    library = Library(tmp_path)
    assert library.runs() == [RunSummary(run.name, "bench", "", 1_795_615_320.0)]
    library.close()


def test_a_link_to_a_runs_folder_is_no_run_of_its_own(tmp_path: Path) -> None:
    run = tmp_path / "20261125-1402-bench"
    run.mkdir()
    (tmp_path / "20261125-1403-bench").symlink_to(run)
    library = Library(tmp_path)
    assert [each.name for each in library.runs()] == [run.name]
    library.look_again("20261125-1403-bench")
    assert [each.name for each in library.runs()] == [run.name]
    library.close()


def test_a_note_that_is_a_link_or_a_pipe_is_not_read(tmp_path: Path) -> None:
    (tmp_path / "secret").write_text("not for the list of runs")
    (tmp_path / "note.txt").symlink_to(tmp_path / "secret")
    (tmp_path / "tags.txt").symlink_to(tmp_path / "secret")
    assert (read_note(tmp_path), read_tags(tmp_path)) == ("", ())
    os.mkfifo(tmp_path / "digest.json")
    assert read_digest(tmp_path) is None
