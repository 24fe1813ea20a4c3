"""What is kept beside a run while another program may sum it up."""

from pathlib import Path

import pytest

from server.runs.beside import SO_FAR, SoFar, keep_so_far, read_so_far, write_digest
from server.runs.digest import FORMAT
from server.test_plan.evidence import Evidence
from server.whole_file import replace_file


def test_what_a_run_had_to_say_so_far_goes_when_it_is_summed_up_whichever_comes_first(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    its, kept = SoFar(Evidence().record(None), 1.0), tmp_path / SO_FAR
    keep_so_far(tmp_path, its, False)
    assert read_so_far(tmp_path) == its

    def meanwhile(path: Path, content: bytes, *, private: bool) -> None:
        monkeypatch.undo()
        write_digest(tmp_path, {"format": FORMAT})  # by the program that sums it up
        replace_file(path, content, private=private)

    monkeypatch.setattr("server.runs.beside.replace_file", meanwhile)
    keep_so_far(tmp_path, its, False)
    assert not kept.exists(), "it would be read in place of what it came to"
    keep_so_far(tmp_path, its, False)
    assert not kept.exists(), "it is summed up"
    keep_so_far(tmp_path, its, True)
    assert kept.exists(), "it goes on"
