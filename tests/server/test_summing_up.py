"""Closed runs and those that were left are summed up, and one that goes on meanwhile is another one then."""

import asyncio
import contextlib
import io
import os
import sqlite3
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from server.low_priority import Children
from server.packing import Packing
from server.runs.beside import DIGEST, read_digest, write_digest
from server.runs.layout import Entry, Kind, record
from server.runs.library import Library, RunSummary
from server.runs.log.reading import LogReader
from server.runs.log.remake import make_log
from server.runs.log.store import LOG, Store
from server.runs.segments import next_number
from server.runs.shelf import QUIET_S, Shelf
from server.runs.sum_up import main, summed_up
from server.summing_up import SummingUp
from tests.server.runs.recordings import OPENED_UTC_S, recorded_run, segment_of
from tests.server.until import until

SHORT = ((0.4, 0.0, 0.0, 0.0),)


@pytest.fixture
def library(tmp_path: Path) -> Iterator[Library]:
    made = Library(tmp_path / "runs")
    yield made
    made.close()


@pytest.fixture
def left(library: Library) -> Path:
    """The segment of a run that was left open a while ago: its cable is out."""
    return quiet(segment_of(library, recorded_run(library, story=SHORT, closed=False)))


def quiet(segment: Path) -> Path:
    os.utime(segment, (time.time() - QUIET_S - 5.0,) * 2)
    return segment


class Asked(Children):
    """Sums up at once. `meanwhile` is called before what was found is kept, once."""

    def __init__(self, meanwhile: Callable[[], object] = lambda: None) -> None:
        super().__init__()
        self.asked, self._meanwhile = list[str](), meanwhile

    async def run(self, module: str, run: Path, *options: str, share: Callable[[float], None] | None = None) -> str:
        self.asked.append(run.name)
        make_log(run)
        found = summed_up(run)
        self._meanwhile()
        self._meanwhile = lambda: None
        write_digest(run, found)
        return ""


async def summed(summing_up: SummingUp, done: Callable[[], bool], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("server.summing_up.LOOK_EVERY_S", 0.01)
    task = asyncio.create_task(summing_up.run())
    await until(done)
    await asyncio.sleep(0.1)
    task.cancel()
    await asyncio.gather(task, return_exceptions=True)


async def test_a_run_that_goes_on_and_closes_while_it_is_summed_up_is_summed_up_when_it_has_closed(
    library: Library, left: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    name, shelf = left.parent.name, Shelf(library)
    monkeypatch.setattr("server.runs.log.remake.SETTLED_S", 0.0)

    def add(entry: Entry) -> None:
        with left.open("ab") as file:
            file.write(record(next_number(left.parent), entry))

    children = Asked(lambda: add(Entry(Kind.MARK, OPENED_UTC_S + 90.0, b"the cable is back")))
    summing_up = SummingUp(shelf, children)
    await summed(summing_up, lambda: "could not be" in caplog.text, monkeypatch)
    assert f"{name} could not be summed up: what its program left does not fit the run" in caplog.text
    assert children.asked == [name], "while something comes it is left alone"
    add(Entry(Kind.CLOSE, OPENED_UTC_S + 100.0, b"ended by a person"))
    library.closed(name, OPENED_UTC_S + 100.0, "ended by a person")
    await summed(summing_up, lambda: shelf.is_summed_up(name), monkeypatch)
    assert (summing_up.failed, children.asked) == ({}, [name, name])


async def test_a_run_that_a_rig_holds_open_is_not_summed_up_however_long_its_cable_is_out(
    library: Library, left: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    other = recorded_run(library, "other", OPENED_UTC_S - 600.0, SHORT)
    children = Asked()
    summing_up = SummingUp(Shelf(library), children, lambda: [left.parent.name])
    await summed(summing_up, lambda: bool(children.asked), monkeypatch)
    assert children.asked == [other]


async def test_a_run_that_was_left_open_is_not_summed_up_before_its_board_could_be_heard_of(
    library: Library, left: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """However long the service was away: the run goes on as soon as its board says who it is (test_recording.py)."""
    closed = recorded_run(library, "other", OPENED_UTC_S - 600.0, SHORT)
    children = Asked()
    summing_up = SummingUp(Shelf(library), children, soon_s=1.0)
    began_s = time.monotonic()
    await summed(summing_up, lambda: bool(children.asked), monkeypatch)
    assert children.asked == [closed], "one that is closed waits for no board"
    await summed(summing_up, lambda: len(children.asked) > 1, monkeypatch)
    assert children.asked == [closed, left.parent.name], "its board stays away"
    assert time.monotonic() - began_s > 1.0


async def test_what_cannot_be_summed_up_is_told_and_not_tried_again_as_long_as_it_stays_as_it_is(
    library: Library, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    name = recorded_run(library, story=SHORT)

    class Refusing(Asked):
        async def run(self, module: str, run: Path, *options: str, share: Callable[[float], None] | None = None) -> str:
            self.asked.append(run.name)
            return "Permission denied"

    children = Refusing()
    summing_up = SummingUp(Shelf(library), children)
    await summed(summing_up, lambda: bool(summing_up.failed), monkeypatch)
    assert summing_up.failed == {name: "Permission denied"}
    assert (children.asked, children.troubles) == ([name], {})
    assert f"The run {name} could not be summed up: Permission denied" in caplog.text


async def test_where_the_disk_was_full_it_is_told_and_tried_again_after_a_while_until_all_of_it_is_there(
    library: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    name, write = recorded_run(library, story=SHORT), Store.write
    monkeypatch.setattr("server.runs.sum_up.begin_quietly", lambda: None)
    run = library.folder / name
    with (
        contextlib.closing(sqlite3.connect(run / LOG)) as base,
        base,
    ):  # it is there, and lacks what the disk did not take
        base.execute("UPDATE meta SET value = 'the disk was full' WHERE key = 'incomplete'")
    os.utime(run / LOG, (time.time() - 100.0,) * 2)

    class Within(Children):
        """Its program, in this process. `asked`: how often."""

        asked = 0

        async def run(self, module: str, run: Path, *options: str, share: Callable[[float], None] | None = None) -> str:
            self.asked += 1
            said = io.StringIO()
            with contextlib.redirect_stderr(said):
                main([str(run), *options])
            return said.getvalue().strip()

    def full(*_: object, **__: object) -> None:
        with contextlib.closing(sqlite3.connect(":memory:")) as base:
            base.execute("PRAGMA max_page_count = 1")
            base.execute("CREATE TABLE more (than INTEGER)")

    monkeypatch.setattr(Store, "write", full)
    children, shelf = Within(), Shelf(library)
    summing_up = SummingUp(shelf, children)
    await summed(summing_up, lambda: bool(summing_up.failed), monkeypatch)
    assert summing_up.failed == {name: "its log could not be made (the disk is full)"}
    (said,) = children.troubles.values()
    assert said == f"Not all is kept of {name}, as the disk is full; make room on it: it is tried again every 5 min"
    assert (children.asked, read_digest(run) is not None) == (1, True)
    monkeypatch.setattr("server.summing_up.RETRY_S", 0.05)
    (run / DIGEST).unlink()
    await summed(summing_up := SummingUp(shelf, children), lambda: children.asked > 2, monkeypatch)
    monkeypatch.setattr(Store, "write", write)
    await summed(summing_up, lambda: not summing_up.failed, monkeypatch)
    assert children.troubles == {}
    with LogReader(run) as log:
        assert log.meta["incomplete"] == ""


@pytest.mark.parametrize("hangs", [False, True])
async def test_a_program_that_hangs_or_is_killed_is_told_and_another_does_its_work_later(
    hangs: bool, library: Library, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    name, children = recorded_run(library, story=SHORT), Children()
    does = "import time; time.sleep(60)" if hangs else "import os; os.kill(os.getpid(), 9)"
    (tmp_path / "odd_program.py").write_text(f"{does}\n")
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    monkeypatch.setattr("server.summing_up.PROGRAM", "odd_program")
    monkeypatch.setattr("server.low_priority.SILENT_MAX_S", 0.2 if hangs else 20.0)
    monkeypatch.setattr("server.summing_up.ENDED_RETRY_S", 0.1)
    shelf = Shelf(library)
    await summed(summing_up := SummingUp(shelf, children), lambda: bool(summing_up.failed), monkeypatch)
    why = "as it told nothing for" if hangs else "by signal 9; perhaps this PC has too little memory"
    assert why in summing_up.failed[name]
    monkeypatch.setattr(children, "run", Asked().run)
    await summed(summing_up, lambda: not summing_up.failed and shelf.is_summed_up(name), monkeypatch)


async def test_where_the_list_of_runs_cannot_be_read_it_is_told_and_both_go_on_when_it_can(
    library: Library, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    name, children, listed, broken = recorded_run(library, story=SHORT), Asked(), library.runs, True
    quiet(segment_of(library, name))

    def runs() -> list[RunSummary]:
        if broken:
            raise sqlite3.ProgrammingError("Cannot operate on a closed database.")
        return listed()

    monkeypatch.setattr(library, "runs", runs)
    monkeypatch.setattr("server.low_priority.AGAIN_S", 0.01)
    monkeypatch.setattr("server.packing.LOOK_EVERY_S", 0.01)
    packing = asyncio.create_task(Packing(Shelf(library), children).run())
    summing_up = SummingUp(Shelf(library), children)
    await summed(summing_up, lambda: len(children.troubles) == 2, monkeypatch)
    said = "Cannot operate on a closed database; it is tried again"
    assert sorted(children.troubles.values()) == [f"Runs are not packed: {said}", f"Runs are not summed up: {said}"]
    assert caplog.text.count("Runs are not summed up") == 1
    broken = False
    await summed(summing_up, lambda: len(children.asked) >= 2, monkeypatch)
    packing.cancel()
    await asyncio.gather(packing, return_exceptions=True)
    assert (set(children.asked), children.troubles) == ({name}, {})
