"""The log of a run while it is recorded: what a replay gives stands in it, and no trouble of it holds anybody up."""

import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from server.runs.library import Library
from server.runs.log.dated import Dated, read_dated
from server.runs.log.live import OTHERS_MAX, RETRY_S, LiveLog
from server.runs.log.reading import LogError, LogReader, trends
from server.runs.log.store import LOG, Store
from server.runs.log.summary import LENGTHS_S
from server.runs.log.taken import Taken
from server.runs.recording import Recording
from tests.server.runs.log.logs import CLOCK, OPEN, Stepped, logged, of_a_full_disk, replayed, taken_at, with_event
from tests.server.runs.recordings import OPENED_UTC_S, recorded_run
from tests.server.runs.test_recording import SETTINGS, WIRE
from tests.server.tiny_board import TinyBoard

ROOT = Path(__file__).resolve().parents[4]


@pytest.fixture
def library(tmp_path: Path) -> Iterator[Library]:
    made = Library(tmp_path / "runs")
    yield made
    made.close()


def checked(run: Path) -> dict[str, object]:
    """What a log says of itself, once SQLite finds it whole."""
    base = sqlite3.connect(f"{(run / LOG).as_uri()}?mode=ro", uri=True)
    assert base.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    meta = dict(base.execute("SELECT key, value FROM meta").fetchall())
    base.close()
    return meta


def test_it_holds_the_readings_of_the_run_bit_for_bit_its_events_its_states_and_its_marks(library: Library) -> None:
    run = library.folder / recorded_run(library)
    assert [path.name for path in sorted(run.iterdir())] == ["0001.run", LOG]  # one file, when the run has closed
    assert checked(run) == {"begins": 1, "clean": 1, "closed": 1, "incomplete": "", "lost_instants": 0}
    there = logged(run)
    assert len(there) > 50
    assert there == replayed(run)
    with LogReader(run) as log:
        events = log.told("events", 0.0, 1e11)
        assert [each["record"]["kind"] for each in events][:2] == ["power_on", "running"]
        assert events[0]["utc_s"] == pytest.approx(OPENED_UTC_S + 1.0, abs=0.05)  # the story rests for 1 s
        assert [each["number"] for each in events] == [(1 << 32) + k for k in range(len(events))]
        assert [word for _, word in log.states(OPENED_UTC_S + 1.2, 1e11)][:3] == ["starting", "running", "stalled"]
    marks = sqlite3.connect(run / LOG).execute("SELECT kind FROM marks").fetchall()
    assert marks == [("open",), ("begin",), ("close",)]


def test_a_run_that_is_open_is_read_while_it_is_written(tmp_path: Path) -> None:
    log = Stepped(tmp_path / "run")
    log.begin()
    for second in range(0, 120, 4):
        log.give(taken_at(second, value=second, instants=20))
        log.written()
    found = trends([tmp_path / "run"], ["current_rms_a"], (CLOCK.utc_s(8.0), CLOCK.utc_s(136.0)), 8)
    assert found.grid.level == 4  # stretches of 16 s: what of them has not ended is read from shorter ones
    high = found.bands["current_rms_a"].high
    assert high[:7].tolist() == [20.0, 36.0, 52.0, 68.0, 84.0, 100.0, 116.0]
    assert np.isnan(high[7])
    assert found.there == ("current_rms_a", "run_state")
    log.close()


def test_after_a_restart_the_log_goes_on_where_it_was_and_nothing_is_summed_twice(library: Library) -> None:
    first = Recording(SETTINGS, library)
    first.chunk(WIRE[:30_000], OPENED_UTC_S)
    first.stop(OPENED_UTC_S + 5.0)
    second = Recording(SETTINGS, library)
    second.connected(OPENED_UTC_S + 20.0)
    second.chunk(b"".join(TinyBoard().frames()[:5]) + WIRE[60_000:], OPENED_UTC_S + 21.0)
    second.end_run(OPENED_UTC_S + 22.0)
    second.stop(OPENED_UTC_S + 23.0)
    run = library.folder / library.runs()[0].name
    assert checked(run)["incomplete"] == ""
    assert logged(run) == replayed(run)
    with LogReader(run) as log:
        numbers = [each["number"] for each in log.told("events", 0.0, 1e11)]
        assert numbers == sorted(set(numbers))
        assert {number >> 32 for number in numbers} == {1, 2}  # behind each beginning they count anew
    currents = sum(any(each.id == "current_rms_a" for each in readings) for *_, readings in logged(run))
    store = Store(run / LOG)
    for level in range(len(LENGTHS_S)):
        told = 0
        for its in store.stretches(level, 0, 1 << 31).values():
            k = its.ids.index("current_rms_a") if "current_rms_a" in its.ids else None
            told += 0 if k is None else int(its.count[k] + its.absent[k])
        assert told == currents, level
    store.close()


def test_beyond_its_limit_whole_instants_are_left_out_and_counted_and_events_stay(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("server.runs.log.live.READINGS_MAX", 1000)
    log = Stepped(tmp_path / "run")
    log.begin()
    for second in range(15):  # 100 instants of two readings in 20 s, and an event; nothing is written meanwhile
        log.give(with_event(taken_at(20.0 * second, instants=100), 20.0 * second))
    assert log._readings == 1000
    log.written()
    assert (log.logging.lost, log.logging.reason) == (1000, "")
    log.close()
    meta = checked(tmp_path / "run")
    assert (meta["lost_instants"], meta["incomplete"]) == (1000, "instants came faster than the disk took them")
    with LogReader(tmp_path / "run") as reader:
        events = reader.told("events", 0.0, 1e11)
        assert [each["board_s"] for each in events] == [20.0 * second for second in range(15)]
    assert len(logged(tmp_path / "run")) == 500
    for _ in range(OTHERS_MAX + 5):
        log.give(Taken(OPEN, ()))
    assert len(log._waiting) == OTHERS_MAX


def test_what_came_at_a_time_that_no_clock_tells_is_left_out_and_counted(tmp_path: Path) -> None:
    log = Stepped(tmp_path / "run")
    log.begin()
    log.give(taken_at(0.0), taken_at(1e15), taken_at(-1e15), taken_at(1.0))
    log.close()
    assert len(logged(tmp_path / "run")) == 2
    assert checked(tmp_path / "run")["incomplete"] == "times that no clock tells"
    assert checked(tmp_path / "run")["lost_instants"] == 2


def test_a_full_disk_stops_the_log_and_it_goes_on_by_itself_and_says_what_it_missed(tmp_path: Path) -> None:
    log, free = of_a_full_disk(tmp_path / "run")
    said = "the log could not be written (less than the 100 MB that are left untouched are free on the disk)"
    assert (log.logging.reason, log.logging.run) == (said, "run")
    free[0] = 10**12
    log.give(taken_at(2.0))
    log.written()
    assert log.logging.reason == said  # not yet
    log.written(RETRY_S)
    assert (log.logging.reason, log.logging.lost) == ("", 1)
    log.close()
    assert [board_s for _, board_s, *_ in logged(tmp_path / "run")] == [0.0, 2.0]
    assert (checked(tmp_path / "run")["lost_instants"], checked(tmp_path / "run")["incomplete"]) == (1, said)


def test_alarms_and_notes_are_kept_while_a_full_disk_stops_the_log_and_that_is_told_once(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    free = [90_000_000]
    log, entry = (
        Stepped(tmp_path / "run", lambda folder: (free[0], 10**13)),
        Dated("note", OPEN.utc_s, None, {"text": "x"}),
    )
    log.begin()
    assert log.keep(entry)
    log.give(Taken(replace(OPEN), ()))  # the next run has no folder yet
    later = replace(entry, at_utc_s=OPEN.utc_s + 9.0)
    assert log.keep(later)
    log.written()  # its folder is found
    log.written()
    assert read_dated(tmp_path / "run") == [entry]
    for _ in range(5):
        free[0] -= 5_000_000
        log.written(RETRY_S)
    assert caplog.text.count("the log could not be written") == 1


def test_a_file_that_may_not_grow_is_told_as_full_and_what_is_in_it_stays(tmp_path: Path) -> None:
    log = Stepped(tmp_path / "run")
    log.begin()
    log.give(taken_at(0.0))
    log.written()
    assert log._store is not None
    log._store._base.execute("PRAGMA max_page_count = 1")  # SQLite itself finds no room: SQLITE_FULL
    log.give(taken_at(1.0, instants=500))
    log.written()
    assert "database or disk is full" in log.logging.reason
    log.written(RETRY_S)
    log.close()
    assert [board_s for _, board_s, *_ in logged(tmp_path / "run")] == [0.0]
    assert checked(tmp_path / "run")["lost_instants"] == 500


@pytest.mark.parametrize("content", [b"", b"no database" * 1000, b"SQLite format 3\0" + bytes(5000)])
def test_a_log_that_was_broken_while_the_service_was_away_is_set_aside(tmp_path: Path, content: bytes) -> None:
    run = tmp_path / "run"
    run.mkdir()
    (run / LOG).write_bytes(content)
    log = Stepped(run)
    log.opened(None, run)
    log.give(taken_at(0.0))
    log.written()
    log.written(RETRY_S)
    log.give(taken_at(1.0))
    log.written()
    log.close()
    assert 1.0 in [board_s for _, board_s, *_ in logged(run)]
    if content:
        assert (run / "log.aside-1.sqlite").read_bytes() == content
        assert "broken" in str(checked(run)["incomplete"])


def test_a_log_of_a_later_version_stays_as_it_is_and_nothing_is_logged(tmp_path: Path) -> None:
    run = tmp_path / "run"
    run.mkdir()
    Store(run / LOG).close()
    base = sqlite3.connect(run / LOG)
    base.execute("PRAGMA user_version = 3")
    base.close()
    there = (run / LOG).read_bytes()
    log = Stepped(run)
    log.opened(None, run)
    for _ in range(3):
        log.give(taken_at(0.0))
        log.written(RETRY_S)
    assert "of version 3, and this program reads version 2" in log.logging.reason
    log.stop()
    assert (run / LOG).read_bytes() == there
    with pytest.raises(LogError, match="of version 3"), LogReader(run):
        pass


def test_a_folder_that_was_taken_away_is_said_and_not_made_again(tmp_path: Path) -> None:
    log = LiveLog("bench")
    run = tmp_path / "run"
    run.mkdir()
    log.opened(OPEN, run)
    log.put(Taken(OPEN, ()))
    log.step(1.0)
    run.rename(tmp_path / "away")
    log.put(taken_at(1.0))
    log.step(2.0)
    assert "No such file or directory" in log.logging.reason
    assert not run.exists()
    log.stop()


def test_alarms_and_notes_are_kept_with_the_run_that_is_open(library: Library) -> None:
    recording = Recording(SETTINGS, library)
    entry = Dated("alarm", OPENED_UTC_S + 1.0, 1.0, {"reading": "current_rms_a", "limit": 2.0})
    assert not recording.keep(entry)  # no run is open
    recording.chunk(WIRE[:30_000], OPENED_UTC_S)
    assert recording.keep(entry)
    with pytest.raises(ValueError, match="no time"):
        recording.keep(Dated("alarm", float("nan"), None, {}))
    recording.end_run(OPENED_UTC_S + 2.0)
    recording.stop(OPENED_UTC_S + 3.0)
    assert read_dated(library.folder / library.runs()[0].name) == [entry]


_ENDLESS = """
import sys, time
from pathlib import Path
from tests.server.runs.log.logs import Stepped, taken_at
log = Stepped(Path(sys.argv[1]))
log.begin()
for second in range(100000):
    log.give(taken_at(second, instants=5))
    log.written()
    print(second, flush=True)
"""


def test_a_kill_at_any_moment_leaves_a_whole_file_with_all_that_was_written(tmp_path: Path) -> None:
    for k in range(2):
        run = tmp_path / f"run{k}"
        child = subprocess.Popen(
            [sys.executable, "-c", _ENDLESS, str(run)], cwd=ROOT, stdout=subprocess.PIPE, text=True
        )
        assert child.stdout is not None
        said = [child.stdout.readline() for _ in range(3 + 20 * k)]
        child.kill()
        said += child.stdout.readlines()
        child.wait()
        child.stdout.close()
        told = int([line for line in said if line.endswith("\n")][-1])
        assert checked(run)["clean"] == 0
        there = logged(run)
        assert len(there) >= 5 * (told + 1)
        assert [board_s for _, board_s, *_ in there] == pytest.approx([0.2 * k for k in range(len(there))])
        log = Stepped(run)  # the next start
        log.opened(None, run)
        log.give(taken_at(1000.0))
        log.written()
        log.close()
        assert checked(run)["incomplete"] == "the service ended before the log was closed"
        assert len(logged(run)) == len(there) + 1
