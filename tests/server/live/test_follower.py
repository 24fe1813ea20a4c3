import asyncio
import json
from typing import Any

import pytest

from server.live.follower import LINES_MAX, Follower
from server.live.records import Connection, ConnectionState
from server.live.view import View
from server.pipeline import Output
from server.readings import DamageReport, Event, Instant, Reading
from tests.server.live.blocks import Sync, described

NOW = Sync().zero_utc_s


@pytest.fixture
def view() -> View:
    fresh = View("heron-1")
    fresh.connection = Connection(ConnectionState.LIVE, since_utc_s=NOW)
    return fresh


async def lines(follower: Follower, now_s: float = 0.0) -> list[dict[str, Any]]:
    return [json.loads(line) for line in (await follower.next(NOW + now_s)).splitlines()]


async def test_everything_that_the_view_takes_comes_out_as_a_line(view: View) -> None:
    follower = Follower(view)
    instant = Instant(0, 200_000, 0.2, 0.2, (Reading("current_rms_a", 0.55), Reading("run_state", "running")))
    event, damage = Event("started", 0.1, "Started"), DamageReport("lost", 0.1, "6 frames were lost", 6, 192)
    view.take(Output(described=described(), instants=(instant,), events=(event,), damage=(damage,)), Sync())
    came = await lines(follower)
    assert [line["kind"] for line in came] == ["described", "damage", "event", "readings"]
    assert came[3]["current_rms_a"] == 0.55
    assert came[3]["utc_s"] == NOW + 0.2


async def test_who_waits_is_woken_and_who_has_closed_is_left_alone(view: View) -> None:
    follower = Follower(view)
    waiting = asyncio.create_task(lines(follower))
    await asyncio.sleep(0.01)
    view.take(Output(events=(Event("started", 0.1, "Started"),)), Sync())
    assert len(await asyncio.wait_for(waiting, 1)) == 1
    follower.close()
    assert not view.followers


async def test_silence_and_a_lost_wire_are_marks(view: View, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("server.live.follower.LOOK_S", 0.001)
    follower = Follower(view)
    texts = []
    for now_s in (0.5, 1.5, 1.6, 7.0, 7.1):
        texts += [line["text"] for line in await lines(follower, now_s)]
    gone = Connection(ConnectionState.DISCONNECTED, "The cable is out", "Plug it in", since_utc_s=NOW + 7.5)
    view.connection = gone
    marks = await lines(follower, 8.0)
    assert texts == [
        "Samples have stopped: what was read last is stale",
        "Samples have stopped: what was read last is too old to be shown",
    ]
    assert marks == [{"kind": "mark", "utc_s": NOW + 7.5, "text": "The wire was lost: The cable is out. Plug it in"}]


async def test_one_who_reads_too_slowly_is_told_how_many_lines_were_lost(view: View) -> None:
    follower = Follower(view)
    for k in range(LINES_MAX + 7):
        view.take(Output(events=(Event("mark", 0.0, f"Event {k}"),)), Sync())
    came = await lines(follower)
    assert came[0]["text"] == "7 lines were lost: they were read too slowly"
    assert came[1]["text"] == "Event 7"
    assert len(came) == LINES_MAX + 1
