"""A log that is lost, broken or has something missing is made again from the segments, the same to the bit."""

import contextlib
import json
import os
import random
import sqlite3
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from server.runs.beside import DIGEST, read_digest, write_digest
from server.runs.layout import Entry
from server.runs.library import Library
from server.runs.log.reading import LogError, LogReader, trends
from server.runs.log.remake import MAKING, make_log
from server.runs.log.store import LOG, Store
from server.runs.replay import recorded
from server.runs.shelf import Shelf
from server.runs.sum_up import main, summed_up
from tests.server.runs.log.logs import logged, replayed
from tests.server.runs.recordings import LASTS_S, OPENED_UTC_S, recorded_run, segment_of

SPAN = OPENED_UTC_S, OPENED_UTC_S + LASTS_S
IDS = ("current_rms_a", "speed_rpm", "voltage_rms_v")


@pytest.fixture
def library(tmp_path: Path) -> Iterator[Library]:
    made = Library(tmp_path / "runs")
    yield made
    made.close()


def rows(run: Path) -> dict[str, list[object]]:
    """All that is told in a log, and how it is summed up."""
    base = sqlite3.connect(run / LOG)
    sql = {
        "summaries": "SELECT * FROM summaries",
        "blocks": "SELECT key, ids, data FROM blocks JOIN layouts ON number = layout ORDER BY key",
        **{table: f"SELECT * FROM {table} ORDER BY number" for table in ("events", "states", "marks", "verdicts")},
    }
    found = {table: base.execute(wanted).fetchall() for table, wanted in sql.items()}
    base.close()
    return found


def test_a_lost_log_is_made_again_and_is_the_same(library: Library) -> None:
    run = library.folder / recorded_run(library)
    before, readings = rows(run), logged(run)
    assert not make_log(run)  # a whole one stays
    (run / LOG).unlink()
    assert make_log(run)
    assert logged(run) == readings == replayed(run)
    assert rows(run) == before
    assert sorted(path.name for path in run.iterdir()) == ["0001.run", LOG]


def test_a_log_that_misses_something_is_made_again_when_its_run_has_closed(library: Library) -> None:
    run = library.folder / recorded_run(library)
    base = sqlite3.connect(run / LOG)
    with base:
        base.execute("UPDATE meta SET value = 'instants came faster than the disk took them' WHERE key = 'incomplete'")
        base.execute("DELETE FROM instants WHERE number > 20")
    base.close()
    os.utime(run / LOG, (time.time() - 100,) * 2)
    assert make_log(run)
    assert logged(run) == replayed(run)
    with LogReader(run) as log:
        assert log.meta == {"begins": 1, "clean": 1, "closed": 1, "incomplete": "", "lost_instants": 0}


def test_of_a_run_that_cannot_all_be_read_the_log_of_before_is_kept_too(library: Library) -> None:
    run = library.folder / recorded_run(library)
    base = sqlite3.connect(run / LOG)
    with base:
        base.execute("UPDATE meta SET value = 0 WHERE key = 'clean'")
    base.close()
    os.utime(run / LOG, (time.time() - 100,) * 2)
    data = bytearray(segment_of(library, run.name).read_bytes())
    data[len(data) // 2 : len(data) // 2 + 100] = b"x" * 100
    segment_of(library, run.name).write_bytes(data)
    assert make_log(run)
    kept = sqlite3.connect(run / "log.aside-1.sqlite")
    assert kept.execute("SELECT count(*) FROM instants").fetchone()[0] > len(logged(run)) - 5
    kept.close()


def test_the_log_of_an_open_run_is_left_to_its_writer_and_none_is_written_over(library: Library) -> None:
    run = library.folder / recorded_run(library, closed=False)
    there = (run / LOG).read_bytes()
    assert not make_log(run)
    assert (run / LOG).read_bytes() == there
    (run / LOG).unlink()
    assert make_log(run)  # there was none
    with LogReader(run) as log:
        assert (log.meta["closed"], log.meta["incomplete"]) == (0, "")


def numbers_of(run: Path) -> set[tuple[object, ...]]:
    """What of the readings of a log is in rows of numbers; texts lie in rows of their own."""
    return {
        (utc_s, board_s, tick, each.id, each.confidence, each.value if isinstance(each.value, float) else None)
        for utc_s, board_s, tick, readings in logged(run)
        for each in readings
    }


@pytest.mark.parametrize("seed", range(3))
def test_no_flipped_bit_makes_another_number_of_one(library: Library, seed: int) -> None:
    run, draw = library.folder / recorded_run(library, story=((1.0, 0.0, 0.0, 0.0),)), random.Random(seed)
    whole = (run / LOG).read_bytes()
    bands, there, broken = trends([run], IDS, SPAN, 100).bands, numbers_of(run), 0
    for _ in range(40):
        data = bytearray(whole)
        for _ in range(5):
            data[draw.randrange(len(data))] ^= 1 << draw.randrange(8)
        (run / LOG).write_bytes(data)
        found = trends([run], IDS, SPAN, 100)
        broken += found.parts[0].broken
        for name in IDS:  # a column is as it was, or something of it is missing
            low, its = bands[name].low, found.bands[name].low
            assert bool(((its >= low) | np.isnan(its)).all())
        with contextlib.suppress(LogError):
            assert numbers_of(run) <= there
    assert broken


def test_a_run_is_asked_for_again_where_its_log_is_lost_and_once_where_it_is_broken(library: Library) -> None:
    name, shelf = recorded_run(library), Shelf(library)
    write_digest(library.folder / name, summed_up(library.folder / name))
    assert shelf.to_sum_up((), 0.0) == ""
    shelf.log_is_broken(name)
    assert [shelf.to_sum_up((), 0.0) for _ in range(2)] == [name, ""]
    (library.folder / name / LOG).unlink()
    assert shelf.to_sum_up((), 0.0) == name
    assert not shelf.is_summed_up(name)
    assert make_log(library.folder / name)
    assert shelf.is_summed_up(name)


def test_a_log_with_a_flipped_bit_in_a_row_is_found_broken_and_mended(
    library: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    name, shelf = recorded_run(library), Shelf(library)
    run = library.folder / name
    write_digest(run, summed_up(run))
    base = sqlite3.connect(run / LOG)
    ((key, data),) = base.execute("SELECT key, data FROM summaries WHERE key < 4e9 LIMIT 1").fetchall()
    with base:
        base.execute("UPDATE summaries SET data = ? WHERE key = ?", (bytes([data[0] ^ 1]) + data[1:], key))
    base.close()
    monkeypatch.setattr("server.runs.sum_up.begin_quietly", lambda: None)
    assert trends([run], IDS, SPAN, 100).parts[0].broken
    shelf.log_is_broken(name)
    assert main([str(library.folder / shelf.to_sum_up((), 0.0))]) == 0
    assert (trends([run], IDS, SPAN, 100).parts[0].broken, shelf.to_sum_up((), 0.0)) == (False, "")
    assert (logged(run), (run / "log.aside-1.sqlite").is_file()) == (replayed(run), True)


def test_where_log_and_digest_are_both_wanted_the_run_is_played_once(
    library: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    run = library.folder / recorded_run(library)
    apart, as_it_was, played = summed_up(run), logged(run), list[Path]()
    with segment_of(library, run.name).open("ab") as file:
        file.write(b"\xff" * 30)  # a part that cannot be read is told by both
    monkeypatch.setattr("server.runs.sum_up.begin_quietly", lambda: None)

    def counted(its: Path) -> Iterator[Entry | str]:
        played.append(its)
        return recorded(its)

    monkeypatch.setattr("server.runs.replay.recorded", counted)
    (run / LOG).unlink()
    assert main([str(run)]) == 0
    found = read_digest(run)
    assert (played, logged(run)) == ([run], as_it_was)
    assert found is not None
    assert len(found["troubles"]) == 1
    differs = {key for key in apart if json.loads(json.dumps(apart[key])) != found[key]}
    assert differs == {"bytes", "troubles"}
    (run / LOG).unlink()
    (run / DIGEST).unlink()
    monkeypatch.setattr(Store, "write", full)
    assert main([str(run)]) == 1, "without its log it is summed up all the same"
    assert read_digest(run) == found


def full(*_: object, **__: object) -> None:
    raise sqlite3.OperationalError("database or disk is full")


def test_a_broken_log_is_made_again_and_set_aside_when_the_new_one_is_there(
    library: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    run = library.folder / recorded_run(library)
    (run / LOG).write_bytes(b"rubbish" * 1000)
    with monkeypatch.context() as patched:
        patched.setattr(Store, "write", full)
        with pytest.raises(sqlite3.OperationalError, match="full"):
            make_log(run)
    assert (sorted(path.name for path in run.iterdir()), (run / LOG).stat().st_size) == (["0001.run", LOG], 7000)
    assert make_log(run)
    assert (run / "log.aside-1.sqlite").read_bytes() == b"rubbish" * 1000
    assert logged(run) == replayed(run)


def test_a_log_of_a_later_version_stays_and_no_scratch_is_left_where_it_fails(
    library: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    run = library.folder / recorded_run(library)
    base = sqlite3.connect(run / LOG)
    base.execute("PRAGMA user_version = 7")
    base.close()
    assert not make_log(run)
    (run / LOG).unlink()
    monkeypatch.setattr(Store, "write", full)
    with pytest.raises(sqlite3.OperationalError, match="full"):
        make_log(run)
    assert [path.name for path in run.iterdir()] == ["0001.run"]
    assert not (run / MAKING).exists()
