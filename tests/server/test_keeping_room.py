"""The service thins what a person agreed to, only while room is short, and tells for how long there is room."""

import asyncio
import os
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from server.config import RigSettings, Space
from server.keeping_room import KeepingRoom, plans_of, with_room
from server.live.records import Recording
from server.low_priority import Children
from server.runs.layout import segment_name
from server.runs.library import Library
from server.runs.pack import pack_segment
from server.runs.packed_segments import bytes_per_s, packed_segments
from server.runs.shelf import Shelf
from server.runs.space import Plan
from server.runs.thinned_run import ACCOUNT_DUE
from tests.server.runs.recordings import segment_bytes
from tests.server.until import until

NAME = "20261125-1402-bench"
PLAN = Plan(30.0, 60.0)


@pytest.fixture
def library(tmp_path: Path) -> Iterator[Library]:
    """An open run: two packed segments, one that is written to now."""
    run, whole = tmp_path / "runs" / NAME, segment_bytes(6.0)[:60_000]
    run.mkdir(parents=True)
    for number in (1, 2, 3):
        (run / segment_name(number)).write_bytes(whole)
    for number in (1, 2):
        pack_segment(run / segment_name(number))
    made = Library(tmp_path / "runs")
    yield made
    made.close()


class Asked(Children):
    """Notes what it was asked to run."""

    def __init__(self, said: str = "") -> None:
        super().__init__()
        self.asked, self._said = list[tuple[str, ...]](), said

    async def run(self, module: str, run: Path, *options: str) -> str:
        self.asked.append((module, run.name, *options))
        (run / ACCOUNT_DUE).unlink(missing_ok=True)
        return self._said


async def looked(room: KeepingRoom, children: Asked, monkeypatch: pytest.MonkeyPatch, until_asked: int) -> None:
    monkeypatch.setattr("server.keeping_room.LOOK_EVERY_S", 0.01)
    task = asyncio.create_task(room.run())
    await until(lambda: room.room_s is not None and len(children.asked) >= until_asked)
    await asyncio.sleep(0.1)
    task.cancel()
    await asyncio.gather(task, return_exceptions=True)


async def test_while_there_is_room_or_without_a_plan_nothing_is_given_up(
    library: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    rate = bytes_per_s(library.folder / NAME)
    assert rate > 0.0
    plenty, short = (2 * 10**12, 10**13), (10**9 + 10, 10**13)
    for free, plans in ((plenty, {"bench": PLAN}), (short, {"pump": PLAN}), (short, {})):
        children = Asked()
        room = KeepingRoom(Shelf(library), children, lambda plans=plans: plans, lambda _, free=free: free)  # type: ignore[misc]
        await looked(room, children, monkeypatch, 0)
        assert not children.asked
        assert room.room_s is not None
        assert (room.room_s > 1e6) == (free is plenty)


async def test_short_of_room_closed_packed_segments_of_a_rig_with_a_plan_are_thinned_once_and_the_newest_never(
    library: Library, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level("INFO")
    children = Asked()
    room = KeepingRoom(Shelf(library), children, lambda: {"bench": PLAN}, lambda _: (10**9 + 10, 10**13))
    await looked(room, children, monkeypatch, 1)
    assert children.asked == [("server.runs.thin", NAME, "30.0", "60.0", "0001.packed", "0002.packed")]
    assert "were thinned by the plan of 30 s before and after each event" in caplog.text


async def test_what_could_not_be_thinned_is_told_and_left_alone_for_a_while_and_an_account_that_is_due_comes_first(
    library: Library, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    (library.folder / NAME / ACCOUNT_DUE).touch()
    children = Asked("its log does not know all of it")
    room = KeepingRoom(Shelf(library), children, lambda: {"bench": PLAN}, lambda _: (10**9 + 10, 10**13))
    await looked(room, children, monkeypatch, 2)
    assert [len(each) for each in children.asked] == [4, 6]
    assert f"{NAME} could not be thinned and keeps its samples: its log" in caplog.text


def test_of_an_open_run_all_packed_segments_but_the_newest_may_be_thinned(library: Library) -> None:
    run = library.folder / NAME
    assert [each.name for each in packed_segments(run, "bench", False)] == ["0001.packed", "0002.packed"]
    os.unlink(run / "0003.run")
    assert [each.name for each in packed_segments(run, "bench", False)] == ["0001.packed"]
    assert [each.name for each in packed_segments(run, "bench", True)] == ["0001.packed", "0002.packed"]
    assert time.time() - run.stat().st_mtime < 60.0


def test_a_plan_holds_where_it_was_agreed_to_and_room_is_told_in_whole_seconds() -> None:
    agreed = RigSettings("bench", space=Space("agreed", 10.0, 20.0))
    assert plans_of([agreed, RigSettings("pump", space=Space("", 10.0, 20.0))]) == {"bench": Plan(10.0, 20.0)}
    assert with_room(Recording, lambda: 12.4)() == replace(Recording(), room_s=12)
    assert with_room(Recording, lambda: None)() == Recording()


async def test_where_the_disk_is_full_and_so_nothing_is_recorded_it_is_thinned_all_the_same(
    library: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    for path in (library.folder / NAME).iterdir():
        os.utime(path, (time.time() - 3600.0,) * 2)
    children = Asked()
    room = KeepingRoom(Shelf(library), children, lambda: {"bench": PLAN}, lambda _: (10**9 - 10, 10**13))
    monkeypatch.setattr("server.keeping_room.LOOK_EVERY_S", 0.01)
    task = asyncio.create_task(room.run())
    await until(lambda: bool(children.asked))
    task.cancel()
    await asyncio.gather(task, return_exceptions=True)
    assert children.asked[0][4:] == ("0001.packed",)
