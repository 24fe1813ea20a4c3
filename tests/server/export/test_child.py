"""What a child that makes a file says where it cannot."""

import io
import json
from pathlib import Path

import pytest

from server.export import child


def test_a_run_that_was_deleted_while_a_file_is_made_of_it_is_told_as_that(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(child, "begin_quietly", lambda end: None)

    def told(run: Path) -> str:
        monkeypatch.setattr("sys.stdin", io.StringIO(json.dumps({"run": str(run)}) + "\n"))
        assert child.main(lambda said, share: {"bytes": (run / "0001.run").stat().st_size}) == 1
        return str(json.loads(capsys.readouterr().out)["trouble"])

    assert told(tmp_path) == "No such file or directory"
    gone = tmp_path / "20261125-1402-bench"
    assert told(gone) == "the run 20261125-1402-bench was deleted; bring it back under Runs and try again"
