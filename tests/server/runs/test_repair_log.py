"""A broken log is found by `slipring repair`, kept, and made again from the samples; of a thinned run it is told."""

import json
from pathlib import Path

import pytest

from server.commands.repair import main
from server.runs.library import Library
from server.runs.log.store import LOG
from server.runs.pack import pack_segment
from server.runs.thin import thin_segment
from tests.server.runs.log.logs import logged, replayed
from tests.server.runs.recordings import recorded_run, segment_bytes


@pytest.fixture
def run(tmp_path: Path) -> Path:
    """A closed run into whose log rubbish was written, in a row that SQLite finds nothing wrong with."""
    library = Library(tmp_path / "runs")
    folder = library.folder / recorded_run(library)
    library.close()
    data = bytearray((folder / LOG).read_bytes())
    for at in range(len(data) // 2, len(data), 4096):
        data[at : at + 14] = b"\xa5" * 14
    (folder / LOG).write_bytes(data)
    return folder


def test_a_broken_log_is_told_then_made_again_and_the_broken_one_kept(
    run: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    broken, names = (run / LOG).read_bytes(), sorted(each.name for each in run.iterdir())
    assert main([str(run)]) == 1
    told = capsys.readouterr()
    assert told.out.startswith(f"{LOG}: the log of {run.name} is broken (")
    assert "it can be made again from the samples" in told.out
    assert "--do puts a log made again in its place; nothing is deleted" in told.err
    assert sorted(each.name for each in run.iterdir()) == names
    assert main([str(run), "--do"]) == 0
    assert "Made again; the broken one is kept as log.aside-1.sqlite." in capsys.readouterr().err
    assert (run / "log.aside-1.sqlite").read_bytes() == broken
    assert logged(run) == replayed(run)
    assert main([str(run)]) == 0
    assert capsys.readouterr().err == "Nothing is damaged.\n"


def test_of_a_thinned_run_it_is_told_that_it_cannot_be_made_again(
    run: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (run / "0001.run").write_bytes(segment_bytes(16.0))
    pack_segment(run / "0001.run")
    assert thin_segment(run / "0001.packed", [], "nothing", 1_795_700_000.0)
    broken = (run / LOG).read_bytes()
    assert main([str(run), "--do", "--json"]) == 1
    told = capsys.readouterr()
    assert json.loads(told.out)["can_be_made_again"] is False
    assert "Made again" not in told.err
    assert (run / LOG).read_bytes() == broken
