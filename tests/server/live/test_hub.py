import asyncio
import logging
from typing import Any

import numpy as np
import pytest

from server.live.hub import TICK_S, VIEWERS_MAX, Hub, TooManyViewersError
from server.live.records import Connection, ConnectionState
from server.live.view import View
from server.live.viewer import DEAD_S, Mail, RubbishError
from server.pipeline import Output
from server.readings import Fast, StateChange
from tests.server.live.blocks import Sync
from tests.server.live.unpack import unpack
from tests.server.live.views import ventilator
from tests.server.live.wires import KeptWire


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
        changes = (StateChange(float(t[0]) - 0.01, float(t[0]), "running"),)
        self.views[name].take(Output(fast=(Fast(t, ones, ones, ones, changes),)), Sync())


class Page:
    """A viewer and its wire; `next` is the picture that came last, and each comes once."""

    def __init__(self, hub: Hub, rig: str) -> None:
        self.wire = KeptWire()
        self.viewer = hub.join(rig, self.wire)
        hub.start(self.viewer)
        self._seen = 0

    def next(self) -> dict[str, Any]:
        assert len(self.wire.taken) == self._seen + 1
        self._seen += 1
        return unpack(self.wire.taken[-1])

    def draw(self, now_s: float) -> dict[str, Any]:
        picture = self.next()
        self.viewer.drawn(picture["number"], now_s)
        return picture


def test_viewers_of_one_rig_get_the_same_bytes() -> None:
    bench = Bench("heron-1", "heron-2")
    first, second, other = (Page(bench.hub, name) for name in ("heron-1", "heron-1", "heron-2"))
    bench.tick()
    assert first.wire.taken[0] is second.wire.taken[0]
    assert (first.next()["rig"], other.next()["rig"]) == ("heron-1", "heron-2")


def test_who_asks_for_other_cycles_gets_a_picture_of_its_own() -> None:
    bench = Bench("heron-1")
    bench.views["heron-1"] = ventilator(1.0)
    near, far, usual = (Page(bench.hub, "heron-1") for _ in range(3))
    near.viewer.zoom(1)
    far.viewer.zoom(12)
    bench.tick()
    assert [page.next()["trace"]["cycles"] for page in (near, far, usual)] == [1, 12, 3]
    with pytest.raises(RubbishError, match="4 cycles"):
        near.viewer.zoom(4)


@pytest.mark.parametrize("rig", ["gone", "\ud800"])
def test_a_rig_that_is_not_there_is_told_with_those_that_are(rig: str) -> None:
    bench = Bench("heron-1", "heron-2")
    page, other = Page(bench.hub, rig), Page(bench.hub, "heron-2")
    bench.tick()
    said = page.next()["connection"]
    assert (said["state"], said["text"]) == ("no_rig", f'There is no rig "{rig if rig.isascii() else "?"}"')
    assert said["detail"] == "There are: heron-1, heron-2."
    assert other.next()["rig"] == "heron-2"
    bench.views[rig] = View(rig)
    page.viewer.drawn(bench.hub.number, bench.now_s)
    bench.tick()
    assert page.next()["connection"]["state"] == "no_board"


def test_who_names_no_rig_is_shown_one_that_lives_and_stays_with_it() -> None:
    bench = Bench("saved", "heron-1", "heron-2")
    page = Page(bench.hub, "")
    bench.tick()
    assert page.draw(bench.now_s)["rig"] == "saved"
    for name in ("heron-1", "heron-2"):
        bench.views[name].connection = Connection(ConnectionState.LIVE)
    bench.tick()
    assert page.draw(bench.now_s)["rig"] == "heron-1"
    bench.views["heron-1"].connection = Connection(ConnectionState.DISCONNECTED)
    bench.tick()
    assert page.next()["rig"] == "heron-1"


def test_no_rig_at_all_is_a_picture_too() -> None:
    bench = Bench()
    page = Page(bench.hub, "")
    bench.tick()
    picture = page.next()
    assert (picture["rig"], picture["connection"]["state"], picture["rigs"]) == ("", "no_board", [])
    bench.views["heron-1"] = View("heron-1")
    bench.tick()
    assert page.next()["rig"] == "heron-1"


def test_rigs_stand_worst_first_in_every_picture() -> None:
    bench = Bench("heron-1", "heron-2")
    bench.views["heron-2"].connection = Connection(ConnectionState.DISCONNECTED)
    page = Page(bench.hub, "heron-1")
    bench.tick()
    rigs = page.next()["rigs"]
    assert [(rig["name"], rig["rank"], rig["tag"]) for rig in rigs] == [
        ("heron-2", 1, "disconnected"),
        ("heron-1", 0, ""),
    ]


def test_a_stuck_viewer_costs_the_others_nothing_and_keeps_two_pictures() -> None:
    bench = Bench("heron-1")
    stuck, full, quick = (Page(bench.hub, "heron-1") for _ in range(3))
    full.wire.full = True
    for _ in range(200):
        bench.tick()
        quick.draw(bench.now_s)
    assert (quick.viewer.pictures_sent, quick.viewer.pictures_dropped) == (200, 0)
    assert [picture["number"] for picture in stuck.wire.pictures] == [1, 2]
    assert stuck.viewer.pictures_dropped == 198
    full.viewer.resumed()
    assert [picture["number"] for picture in full.wire.pictures] == [1, 200]  # one, and the newest in the mailbox
    assert full.viewer.pictures_dropped == 198


def test_a_viewer_that_draws_slowly_gets_the_newest_each_time() -> None:
    bench = Bench("heron-1")
    page, numbers = Page(bench.hub, "heron-1"), []
    page.wire.full = True
    for k in range(100):
        bench.tick()
        if k % 10 == 9:
            page.viewer.resumed()
            numbers.append(page.wire.pictures[-1]["number"])
            page.viewer.drawn(numbers[-1], bench.now_s)
    assert numbers == list(range(10, 101, 10))


def test_a_dead_viewer_is_given_up_and_the_others_stay() -> None:
    bench = Bench("heron-1")
    dead, alive = Page(bench.hub, "heron-1"), Page(bench.hub, "heron-1")
    bench.tick()
    alive.draw(bench.now_s)
    bench.tick(DEAD_S - 1)
    assert not dead.wire.aborted
    alive.draw(bench.now_s)
    bench.tick(2)
    assert dead.wire.aborted
    assert not alive.wire.aborted
    assert bench.hub.viewers == 1


def test_no_more_than_128_viewers_are_let_in() -> None:
    bench = Bench("heron-1")
    coming = bench.hub.join("", KeptWire())  # its handshake has not come to its end
    pages = [Page(bench.hub, "") for _ in range(VIEWERS_MAX - 1)]
    assert VIEWERS_MAX == 128
    with pytest.raises(TooManyViewersError, match="128 viewers"):
        bench.hub.join("", KeptWire())
    for leaving in (coming, pages[0].viewer):
        bench.hub.leave(leaving)
    assert bench.hub.viewers == VIEWERS_MAX - 2
    bench.hub.join("", KeptWire())


def test_the_strip_comes_at_once_and_then_five_times_a_second_while_it_changes() -> None:
    bench = Bench("heron-1")
    page, with_strip = Page(bench.hub, "heron-1"), []
    for k in range(61):
        if k < 40:
            bench.run_motor("heron-1", 0.03)
        bench.tick()
        if page.draw(bench.now_s)["strip"] is not None:
            with_strip.append(k)
    assert with_strip[0] == 0
    assert (np.diff(with_strip) * TICK_S >= 0.2).all()
    assert len(with_strip) == 1 + 40 // 7 + 1  # each seventh tick while rows came, and once for the last rows
    late = Page(bench.hub, "heron-1")
    bench.tick()
    assert late.next()["strip"] is not None
    assert page.next()["strip"] is None


def test_a_strip_that_a_newer_picture_pushed_out_comes_with_that_one() -> None:
    bench = Bench("heron-1")
    bench.run_motor("heron-1", 1.0)
    page = Page(bench.hub, "")
    page.viewer.strip_seen = 0
    page.wire.full = True
    page.viewer.offer(Mail(1, b"", None), 0.0)  # what fills the wire
    bench.tick()  # a picture with the strip, into the mailbox
    bench.tick()
    page.viewer.resumed()
    assert unpack(page.wire.taken[-1])["strip"] is not None


def test_looking_at_another_rig_brings_its_strip() -> None:
    bench = Bench("heron-1", "heron-2")
    bench.run_motor("heron-2", 1.0)
    page = Page(bench.hub, "heron-1")
    for rig in ("heron-1", "heron-2"):
        page.viewer.look_at(rig)
        bench.tick()
        picture = page.draw(bench.now_s)
        assert (picture["rig"], picture["strip"] is not None) == (rig, rig == "heron-2")


def broken(*given: object, **named: object) -> dict[str, object]:
    raise ZeroDivisionError


def test_a_rig_whose_picture_cannot_be_made_leaves_the_others_theirs(caplog: pytest.LogCaptureFixture) -> None:
    bench = Bench("heron-1", "heron-2")
    bench.views["heron-1"].picture = broken  # type: ignore[method-assign]  # the fault that is to be survived
    first, second = Page(bench.hub, "heron-1"), Page(bench.hub, "heron-2")
    with caplog.at_level(logging.ERROR):
        for _ in range(3):
            bench.tick()
    assert second.wire.pictures[0]["rig"] == "heron-2"
    assert not first.wire.taken
    assert len(caplog.records) == 1  # told once, not thirty times a second


async def test_a_tick_that_fails_is_not_the_last_one(caplog: pytest.LogCaptureFixture) -> None:
    bench = Bench("heron-1")
    whole, bench.views = bench.views, None  # type: ignore[assignment]  # the fault that is to be survived
    page = Page(bench.hub, "")
    running = asyncio.create_task(bench.hub.run())
    await asyncio.sleep(3 * TICK_S)
    bench.views = whole
    await asyncio.sleep(3 * TICK_S)
    running.cancel()
    assert page.wire.taken
    assert len(caplog.records) == 1


async def test_it_ticks_only_while_somebody_watches() -> None:
    bench = Bench("heron-1")
    running = asyncio.create_task(bench.hub.run())
    await asyncio.sleep(0.1)
    assert bench.hub.number == 0
    page = Page(bench.hub, "heron-1")
    await asyncio.sleep(3 * TICK_S)
    assert bench.hub.number >= 2
    bench.hub.leave(page.viewer)
    await asyncio.sleep(2 * TICK_S)
    stands = bench.hub.number
    await asyncio.sleep(3 * TICK_S)
    assert bench.hub.number == stands
    running.cancel()
