"""Readings from a run's log are those of a replay, cell for cell; where the log lacks something, the run is played."""

import json
import sqlite3
from pathlib import Path
from shutil import copytree
from typing import Any

import pyarrow.parquet as pq
import pytest

from server.export import Wanted
from server.export import readings as gathering
from server.export.logged import source_of
from server.export.make import make
from server.runs.log.store import LOG, Store
from server.runs.pack import pack_segment
from server.runs.segments import segments
from server.runs.thin import thin_segment
from tests.server.export.runs import OPENED_UTC_S, run_of

LOST = (range(2300, 2320),)
AGAIN = Wanted(again=True)


@pytest.fixture(scope="module")
def recorded(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A run with lost samples, of a board that starts anew within it, in blocks that can be thinned."""
    run = run_of(tmp_path_factory.mktemp("runs"), lost=LOST, starts=2)
    for path in segments(run):
        pack_segment(path)
    return run


@pytest.fixture
def run(recorded: Path, tmp_path: Path) -> Path:
    copied: Path = copytree(recorded, tmp_path / recorded.name)
    return copied


def exported(run: Path, form: str, wanted: Wanted) -> Path:
    target = run.parent / f"{len(list(run.parent.iterdir()))}.{form}"
    make(run, form, wanted, target)
    return target


def table(path: Path) -> tuple[dict[str, list[Any]], str]:
    """The columns of a Parquet file, and what it says of where they are from."""
    its = pq.read_table(path)
    return its.to_pydict(), json.loads(its.schema.metadata[b"slipring"])["source"]


def test_every_cell_from_the_log_is_the_one_of_a_replay(run: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert source_of(run).log
    of_log, of_replay = exported(run, "csv", Wanted()), exported(run, "csv", AGAIN)
    assert of_log.read_bytes() == of_replay.read_bytes()
    header = of_log.read_text().splitlines()[0]
    assert "current_harmonics_a" in header
    assert "_low95" in header
    part = Wanted(from_utc_s=OPENED_UTC_S + 3.0, to_utc_s=OPENED_UTC_S + 4.0)
    again = Wanted(from_utc_s=part.from_utc_s, to_utc_s=part.to_utc_s, again=True)
    assert exported(run, "csv", part).read_bytes() == exported(run, "csv", again).read_bytes()
    monkeypatch.setattr(gathering, "ROWS_MAX", 17)
    (of_log_columns, from_log), (of_replay_columns, from_replay) = (
        table(exported(run, "parquet", wanted)) for wanted in (Wanted(), AGAIN)
    )
    assert of_log_columns == of_replay_columns
    assert len(of_log_columns["utc"]) > 50
    assert "read from the run's log" in from_log
    assert from_replay == "Readings: computed again from the recorded samples, as was asked for."


def test_a_log_that_lacks_something_is_not_taken_and_the_file_says_why(run: Path) -> None:
    whole = (run / LOG).read_bytes()

    def changed(*sql: str) -> str:
        (run / LOG).write_bytes(whole)
        base = sqlite3.connect(run / LOG, isolation_level=None)
        for each in sql:
            base.execute(each)
        base.close()
        return source_of(run).words

    assert "as 7 instants are not in it (too fast)" in changed(
        "UPDATE meta SET value = 'too fast' WHERE key = 'incomplete'",
        "UPDATE meta SET value = 7 WHERE key = 'lost_instants'",
    )
    assert "as its log has 1 instants without" in changed("DELETE FROM margins WHERE number = 7")
    assert "as its log ends before it does" in changed(
        "UPDATE meta SET value = 0 WHERE key = 'closed'", f"DELETE FROM instants WHERE utc_s > {OPENED_UTC_S + 3.0}",
        "DELETE FROM marks WHERE kind = 'close'",
    )  # fmt: skip
    before = "DROP TABLE margins", "PRAGMA user_version = 1"
    assert "instants without what they may be off by and without lists" in changed(*before)
    (run / LOG).write_bytes(b"rubbish")
    columns, source = table(exported(run, "parquet", Wanted()))
    assert "computed again from the recorded samples, as the log" in source
    assert len(columns["utc"]) > 50


def test_a_log_of_before_gets_margins_from_where_it_is_written_on(run: Path) -> None:
    base = sqlite3.connect(run / LOG, isolation_level=None)
    base.execute("DROP TABLE margins")
    base.execute("PRAGMA user_version = 1")
    base.close()
    Store(run / LOG).close()
    base = sqlite3.connect(run / LOG)
    assert base.execute("SELECT count(*) FROM margins").fetchall() == [(0,)]
    base.close()
    assert not source_of(run).log


def test_readings_of_samples_that_were_thinned_away_are_there_and_waveforms_have_the_gap(run: Path) -> None:
    of_log = exported(run, "csv", Wanted()).read_bytes()
    for path in segments(run):
        thin_segment(path, [(OPENED_UTC_S, OPENED_UTC_S + 1.0)], "a plan", OPENED_UTC_S + 1000.0)
    assert exported(run, "csv", Wanted()).read_bytes() == of_log
    assert exported(run, "csv", AGAIN).read_bytes() != of_log
    its = pq.read_table(exported(run, "parquet", Wanted(what="waveforms")))
    assert max(its.column("missing").to_pylist()) > 1000
    assert "were thinned by the plan" in json.loads(its.schema.metadata[b"slipring"])["thinned"]
    base = sqlite3.connect(run / LOG, isolation_level=None)
    base.execute("DELETE FROM margins")
    base.close()
    columns, source = table(exported(run, "parquet", Wanted()))
    assert len(columns["utc"]) == of_log.count(b"\r\n") - 1
    assert "as samples were thinned away since; its log has" in source
