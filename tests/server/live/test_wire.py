"""The wire lost and back: told once each, with one moment for the story and for the banner."""

from typing import Any

import pytest

from server.live.records import Connection, ConnectionState
from server.live.view import View
from server.pipeline import Output
from server.readings import Event
from tests.server.live.blocks import Sync
from tests.server.live.views import ZERO

LIVE, CONNECTING, GONE = ConnectionState.LIVE, ConnectionState.CONNECTING, ConnectionState.DISCONNECTED


def told(view: View, *said: tuple[ConnectionState, float, str]) -> list[tuple[str, float]]:
    """The events of these connections, the oldest first, each with its time."""
    for state, at_s, text in said:
        view.connection = Connection(state, text, since_utc_s=ZERO + at_s)
    return [(each["text"], each["utc_s"] - ZERO) for each in reversed(view.events)]


def test_a_cable_that_is_pulled_and_plugged_in_again_makes_two_events() -> None:
    view = View("heron-1")
    assert told(view, (CONNECTING, 0.0, ""), (LIVE, 0.2, "")) == []
    assert told(view, (GONE, 10.0, "The port is gone (I/O error)")) == [("The wire was lost", 10.0)]
    assert view.events[0]["detail"] == "The port is gone (I/O error)"
    assert told(view, (GONE, 11.0, "There is no such port")) == [("The wire was lost", 10.0)]
    picture: dict[str, Any] = view.picture(ZERO + 12.0)
    assert picture["connection"]["since_utc_s"] == ZERO + 10.0 == picture["events"][0]["utc_s"]
    assert picture["connection"]["text"] == "There is no such port"
    # Back since the port is open: whose board it is was known 0.3 s later.
    back = told(view, (CONNECTING, 22.5, ""), (LIVE, 22.8, ""))
    assert back == [("The wire was lost", 10.0), ("The wire was back after 12.5 s", 22.5)]
    assert told(view, (CONNECTING, 30.0, ""), (LIVE, 30.1, "")) == back


def test_a_port_that_opens_and_is_gone_again_before_its_board_answered_is_still_the_same_loss() -> None:
    said = (
        (LIVE, 0.0, ""),
        (GONE, 5.0, ""),
        (CONNECTING, 6.0, ""),
        (GONE, 6.1, ""),
        (CONNECTING, 8.0, ""),
        (LIVE, 8.3, ""),
    )
    assert told(View("heron-1"), *said) == [("The wire was lost", 5.0), ("The wire was back after 3.0 s", 8.0)]


@pytest.mark.parametrize("other", [ConnectionState.NO_BOARD, ConnectionState.REFUSED])
def test_another_port_is_no_wire_that_came_back(other: ConnectionState) -> None:
    said = ((LIVE, 0.0, ""), (GONE, 5.0, ""), (other, 6.0, ""), (CONNECTING, 7.0, ""), (LIVE, 7.1, ""))
    assert told(View("heron-1"), *said) == [("The wire was lost", 5.0)]


def test_what_the_board_said_before_stands_below_it() -> None:
    view = View("heron-1")
    told(view, (LIVE, 0.0, ""), (GONE, 5.0, ""))
    view.take(Output(events=(Event("stalled", 4.9, "Stalled"),)), Sync())
    assert [each["text"] for each in view.events] == ["The wire was lost", "Stalled"]
