"""What lies in a run's folder and is no file of ours: it is passed over, and nothing waits for it."""

import os
from pathlib import Path

from server.runs.beside import read_digest, read_note, read_tags
from server.runs.segments import segments


def test_a_pipe_or_a_link_with_a_segments_name_is_none(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "0001.run")
    (tmp_path / "elsewhere").write_bytes(b"not ours")
    (tmp_path / "0002.run").symlink_to(tmp_path / "elsewhere")
    (tmp_path / "0003.run").write_bytes(b"")
    assert [path.name for path in segments(tmp_path)] == ["0003.run"]


def test_a_note_that_is_a_link_or_a_pipe_is_not_read(tmp_path: Path) -> None:
    (tmp_path / "secret").write_text("not for the list of runs")
    (tmp_path / "note.txt").symlink_to(tmp_path / "secret")
    (tmp_path / "tags.txt").symlink_to(tmp_path / "secret")
    assert (read_note(tmp_path), read_tags(tmp_path)) == ("", ())
    os.mkfifo(tmp_path / "digest.json")
    assert read_digest(tmp_path) is None
