"""The service thins what a person agreed to, only while room is short, and tells for how long there is room."""

import asyncio
import os
import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from server.config import RigSettings, Space
from server.keeping_room import RETRY_S, KeepingRoom, plans_of, with_room
from server.live.records import Recording
from server.low_priority import Children
from server.runs.layout import segment_name
from server.runs.library import RECEIVED, Library
from server.runs.log.store import LOG, Store
from server.runs.pack import pack_segment
from server.runs.packed_segments import bytes_per_s, packed_segments
from server.runs.shelf import Shelf
from server.runs.space import Plan
from server.runs.thinned_run import ACCOUNT_DUE
from tests.server.runs.recordings import OPENED_UTC_S, segment_bytes
from tests.server.until import until

NAME = "20261125-1402-bench"
PLAN = Plan(30.0, 60.0)
NOW_UTC_S = OPENED_UTC_S + 600.0


def logged(run: Path, until_utc_s: float, **meta: object) -> None:
    store = Store(run / LOG)
    store.write({"instants": [(0, until_utc_s, 0.0, 0, 1, 0.2, 0, b"")]}, meta)
    store.close()


@pytest.fixture
def library(tmp_path: Path) -> Iterator[Library]:
    """An open run: two packed segments, one that is written to now, and a log that knows all."""
    run, whole = tmp_path / "runs" / NAME, segment_bytes(6.0)[:60_000]
    run.mkdir(parents=True)
    for number in (1, 2, 3):
        (run / segment_name(number)).write_bytes(whole)
    for number in (1, 2):
        pack_segment(run / segment_name(number))
    logged(run, NOW_UTC_S)
    made = Library(tmp_path / "runs")
    yield made
    made.close()


class Asked(Children):
    """Notes what it was asked to run."""

    def __init__(self, said: str = "") -> None:
        super().__init__()
        self.asked, self._said = list[tuple[str, ...]](), said

    async def run(self, module: str, run: Path, *options: str, share: Callable[[float], None] | None = None) -> str:
        self.asked.append((module, run.name, *options))
        (run / ACCOUNT_DUE).unlink(missing_ok=True)
        return self._said


def kept_room(
    library: Library,
    children: Children,
    plans: Mapping[str, Plan] | None = None,
    free: tuple[int, int] = (10**9 + 10, 10**13),
) -> KeepingRoom:
    its = {"bench": PLAN} if plans is None else plans
    return KeepingRoom(Shelf(library), children, lambda: NOW_UTC_S, lambda: its, lambda _: free)


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
    plenty, short = (2 * 10**12, 10**13), (10**9 + 10, 10**13)
    cases: list[tuple[tuple[int, int], dict[str, Plan]]] = [(plenty, {"bench": PLAN}), (short, {"pump": PLAN})]
    for free, plans in (*cases, (short, {}), (short, {"bench": PLAN})):
        children = Asked()
        if plans and free is short and "bench" in plans:  # a run of another PC: no plan of this one is about it
            (library.folder / NAME / RECEIVED).touch()
            library.look_again(NAME)
        room = kept_room(library, children, plans, free)
        await looked(room, children, monkeypatch, 0)
        assert not children.asked
        assert room.room_s is not None
        assert (room.room_s > 1e5) == (free is plenty)


async def test_short_of_room_closed_packed_segments_of_a_rig_with_a_plan_are_thinned_once_and_the_newest_never(
    library: Library, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level("INFO")
    children = Asked()
    room = kept_room(library, children)
    await looked(room, children, monkeypatch, 1)
    assert children.asked == [("server.runs.thin", NAME, "30.0", "60.0", "0001.packed", "0002.packed")]
    assert "were thinned by the plan of 30 s before and after each event" in caplog.text


async def test_what_could_not_be_thinned_is_told_and_left_alone_for_a_while_and_an_account_that_is_due_comes_first(
    library: Library, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    (library.folder / NAME / ACCOUNT_DUE).touch()
    children = Asked("its log does not know all of it")
    room = kept_room(library, children)
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
    room = kept_room(library, children, free=(10**9 - 10, 10**13))
    monkeypatch.setattr("server.keeping_room.LOOK_EVERY_S", 0.01)
    task = asyncio.create_task(room.run())
    await until(lambda: bool(children.asked))
    task.cancel()
    await asyncio.gather(task, return_exceptions=True)
    assert children.asked[0][4:] == ("0001.packed",)


def test_how_fast_a_run_grows_is_not_taken_from_a_clock_that_stepped_or_from_its_first_moments(
    library: Library,
) -> None:
    run = library.folder / NAME
    plain, log = (run / "0003.run").stat().st_size, (run / LOG).stat().st_size
    for seconds in (-3600.0, 0.0, 9.0):
        assert bytes_per_s(run, OPENED_UTC_S + seconds) is None
    assert bytes_per_s(run, OPENED_UTC_S + 600.0) == pytest.approx((plain + log) / 600.0, rel=1e-3)


async def test_an_account_that_could_not_be_made_is_tried_again_and_a_tighter_plan_is_another_one(
    library: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    (library.folder / NAME / ACCOUNT_DUE).touch()
    children, plans, clock = Asked("no room"), {"bench": PLAN}, time.monotonic
    room = kept_room(library, children, plans)
    await looked(room, children, monkeypatch, 2)
    plans["bench"] = Plan(10.0, 60.0)
    await looked(room, children, monkeypatch, 3)
    assert [each[2:4] for each in children.asked] == [("0", "0"), ("30.0", "60.0"), ("10.0", "60.0")]
    monkeypatch.setattr("server.keeping_room.time.monotonic", lambda: clock() + RETRY_S)
    await looked(room, children, monkeypatch, 5)
    assert [each[2:4] for each in children.asked[3:]] == [("0", "0"), ("10.0", "60.0")]


KILLED: dict[str, Any] = {"until_utc_s": NOW_UTC_S, "incomplete": "the service ended"}
MISSING_HERE: dict[str, Any] = {**KILLED, "missing": f"[[{OPENED_UTC_S + 1.0}, {OPENED_UTC_S + 5.0}]]"}
MISSING_LATER: dict[str, Any] = {**KILLED, "missing": f"[[{OPENED_UTC_S + 300.0}, {OPENED_UTC_S + 301.0}]]"}


@pytest.mark.parametrize("log", [{"until_utc_s": OPENED_UTC_S + 40.0}, KILLED, MISSING_HERE])
def test_what_the_log_of_an_open_run_does_not_know_is_neither_thinned_nor_counted_as_room_to_come(
    library: Library, log: dict[str, Any]
) -> None:
    room = kept_room(library, Asked(), free=(10**9, 10**13))
    assert len(room._look({"bench": PLAN})) == 2
    assert room.room_s is not None
    assert room.room_s > 0.0
    (library.folder / NAME / LOG).unlink()
    logged(library.folder / NAME, **log)
    assert room._look({"bench": PLAN}) == []
    assert room.room_s == 0.0


async def test_after_a_kill_only_what_lies_around_it_stays_and_where_that_is_all_it_is_told_while_room_is_short(
    library: Library, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setattr("server.keeping_room.LONG_DUE_S", 0.0)
    run = library.folder / NAME
    (run / LOG).unlink()
    logged(run, **MISSING_HERE)
    children = Asked()
    await looked(kept_room(library, children), children, monkeypatch, 0)
    (said,) = children.troubles.values()
    assert said == (
        f"Room is short, and the plan gives up nothing of {NAME}, as its log does not know all that happened"
        " (the service ended); make room on the disk"
    )
    assert caplog.text.count(said) == 1
    (run / LOG).unlink()
    logged(run, **MISSING_LATER)
    room = kept_room(library, children)
    room._told_kept = set(children.troubles)
    await looked(room, children, monkeypatch, 1)
    assert children.asked[0][4:] == ("0001.packed", "0002.packed")
    assert not children.troubles


async def test_a_run_whose_folder_is_gone_is_told_once_and_holds_up_no_other(
    library: Library, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    library.opened("20261125-1501-bench", "bench", "7", OPENED_UTC_S + 3600.0)
    children = Asked()
    await looked(kept_room(library, children), children, monkeypatch, 1)
    assert children.asked[0][1] == NAME
    assert caplog.text.count("20261125-1501-bench is left out where room is kept: No such file") == 1
    (said,) = children.troubles.values()
    assert said.startswith("Room is short, and the run 20261125-1501-bench cannot be read: No such file")
