import asyncio
import logging
from typing import Any

import numpy as np
import pytest

from server.live.hub import TICK_S, VIEWERS_MAX, Hub, TooManyViewersError
from server.live.records import Connection, ConnectionState
from server.live.view import View
from server.live.viewer import DEAD_S, Viewer
from server.pipeline import Output
from server.readings import Fast, Instant, Reading
from tests.server.live.blocks import Sync
from tests.server.live.unpack import unpack


class Bench:
    """A hub over views by name, its clock set by hand."""

    def __init__(self, *names: str) -> None:
        self.views = {name: View(name) for name in names}
        self.now_s = 0.0
        self.hub = Hub(lambda: self.views, lambda: 1e9 + self.now_s)

    def tick(self, seconds: float = TICK_S) -> None:
        self.now_s += seconds
        self.hub.tick(self.now_s)

    def run_motor(self, name: str, seconds: float) -> None:
        """Rows of a running motor from board time `now_s` on."""
        t = self.now_s + np.arange(1, round(seconds * 100) + 1, dtype=np.float64) * 0.01
        ones: np.ndarray[Any, np.dtype[np.float64]] = np.ones(t.size)
        state = Instant(0, 0, float(t[-1]), 0.2, (Reading("run_state", "running"),))
        self.views[name].take(Output(fast=(Fast(t, ones, ones, ones),), instants=(state,)), Sync())


async def received(viewer: Viewer) -> dict[str, Any]:
    return unpack(await asyncio.wait_for(viewer.next(), 1))


async def test_viewers_of_one_rig_get_the_same_bytes() -> None:
    bench = Bench("heron-1", "heron-2")
    first, second, other = (bench.hub.join(name) for name in ("heron-1", "heron-1", "heron-2"))
    bench.tick()
    packed = await first.next()
    assert await second.next() is packed
    assert unpack(packed)["rig"] == "heron-1"
    assert (await received(other))["rig"] == "heron-2"


@pytest.mark.parametrize("rig", ["", "gone", "\ud800"])
async def test_a_rig_that_is_not_there_shows_the_first_one(rig: str) -> None:
    bench = Bench("heron-1", "heron-2")
    viewer = bench.hub.join(rig)
    bench.tick()
    assert (await received(viewer))["rig"] == "heron-1"


async def test_no_rig_at_all_is_a_picture_too() -> None:
    bench = Bench()
    viewer = bench.hub.join("")
    bench.tick()
    picture = await received(viewer)
    assert (picture["rig"], picture["connection"]["state"], picture["rigs"]) == ("", "no_board", [])
    bench.views["heron-1"] = View("heron-1")
    bench.tick()
    assert (await received(viewer))["rig"] == "heron-1"


async def test_rigs_stand_worst_first_in_every_picture() -> None:
    bench = Bench("heron-1", "heron-2")
    bench.views["heron-2"].connection = Connection(ConnectionState.DISCONNECTED)
    viewer = bench.hub.join("heron-1")
    bench.tick()
    rigs = (await received(viewer))["rigs"]
    assert [(rig["name"], rig["rank"], rig["tag"]) for rig in rigs] == [
        ("heron-2", 1, "disconnected"),
        ("heron-1", 0, ""),
    ]


async def test_a_stuck_viewer_costs_the_others_nothing_and_keeps_two_pictures() -> None:
    bench = Bench("heron-1")
    stuck, quick = bench.hub.join("heron-1"), bench.hub.join("heron-1")
    for _ in range(200):
        bench.tick()
        quick.drawn((await received(quick))["number"], bench.now_s)
    assert (quick.pictures_sent, quick.pictures_dropped) == (200, 0)
    assert stuck.pictures_dropped == 199  # one in the mailbox, always the newest
    assert (await received(stuck))["number"] == 200


async def test_a_viewer_that_draws_slowly_gets_the_newest_each_time() -> None:
    bench = Bench("heron-1")
    viewer, numbers = bench.hub.join("heron-1"), []
    for k in range(100):
        bench.tick()
        if k % 10 == 0:
            numbers.append((await received(viewer))["number"])
            viewer.drawn(numbers[-1], bench.now_s)
    assert numbers == list(range(1, 101, 10))


async def test_a_dead_viewer_is_given_up_and_the_others_stay() -> None:
    bench = Bench("heron-1")
    dead, alive = bench.hub.join("heron-1"), bench.hub.join("heron-1")
    bench.tick()
    await dead.next()
    alive.drawn((await received(alive))["number"], bench.now_s)
    bench.tick(DEAD_S - 1)
    assert not dead.gone.is_set()
    alive.drawn((await received(alive))["number"], bench.now_s)
    bench.tick(2)
    assert dead.gone.is_set()
    assert not alive.gone.is_set()
    assert bench.hub.viewers == 1


async def test_no_more_than_128_viewers_are_let_in() -> None:
    bench = Bench("heron-1")
    viewers = [bench.hub.join("") for _ in range(VIEWERS_MAX)]
    assert VIEWERS_MAX == 128
    with pytest.raises(TooManyViewersError, match="128 viewers"):
        bench.hub.join("")
    bench.hub.leave(viewers[0])
    bench.hub.join("")


async def test_the_strip_comes_at_once_and_then_five_times_a_second_while_it_changes() -> None:
    bench = Bench("heron-1")
    viewer, with_strip = bench.hub.join("heron-1"), []
    for k in range(61):
        if k < 40:
            bench.run_motor("heron-1", 0.03)
        bench.tick()
        picture = await received(viewer)
        viewer.drawn(picture["number"], bench.now_s)
        if picture["strip"] is not None:
            with_strip.append(k)
    assert with_strip[0] == 0
    assert (np.diff(with_strip) * TICK_S >= 0.2).all()
    assert len(with_strip) == 1 + 40 // 7 + 1  # each seventh tick while rows came, and once for the last rows
    late = bench.hub.join("heron-1")
    bench.tick()
    assert (await received(late))["strip"] is not None
    assert (await received(viewer))["strip"] is None


async def test_looking_at_another_rig_brings_its_strip() -> None:
    bench = Bench("heron-1", "heron-2")
    bench.run_motor("heron-2", 1.0)
    viewer = bench.hub.join("heron-1")
    for rig in ("heron-1", "heron-2"):
        viewer.look_at(rig)
        bench.tick()
        picture = await received(viewer)
        viewer.drawn(picture["number"], bench.now_s)
        assert (picture["rig"], picture["strip"] is not None) == (rig, rig == "heron-2")


async def test_a_rig_whose_picture_cannot_be_made_leaves_the_others_theirs(caplog: pytest.LogCaptureFixture) -> None:
    bench = Bench("heron-1", "heron-2")

    def broken(*given: object, **named: object) -> dict[str, object]:
        raise ZeroDivisionError

    bench.views["heron-1"].picture = broken  # type: ignore[method-assign]  # the fault that is to be survived
    first, second = bench.hub.join("heron-1"), bench.hub.join("heron-2")
    with caplog.at_level(logging.ERROR):
        for _ in range(3):
            bench.tick()
    assert (await received(second))["rig"] == "heron-2"
    assert len(caplog.records) == 1  # told once, not thirty times a second
    with pytest.raises(TimeoutError):
        await asyncio.wait_for(first.next(), 0.01)


async def test_it_ticks_only_while_somebody_watches() -> None:
    bench = Bench("heron-1")
    running = asyncio.create_task(bench.hub.run())
    await asyncio.sleep(0.1)
    assert bench.hub.number == 0
    viewer = bench.hub.join("heron-1")
    for _ in range(3):
        viewer.drawn((await received(viewer))["number"], 0.0)
    bench.hub.leave(viewer)
    await asyncio.sleep(0.05)
    stands = bench.hub.number
    await asyncio.sleep(0.1)
    assert bench.hub.number == stands
    running.cancel()
