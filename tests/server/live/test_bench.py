from typing import cast

import pytest

from server.live.bench import alarms_record, bench_record, rank_and_tag, shown_unasked
from server.live.records import Connection, ConnectionState, Recording, RecordingState
from server.live.view import View
from server.pipeline import Output
from server.readings import Reading
from tests.server.live.blocks import Sync
from tests.server.live.views import ZERO, instant, ventilator


@pytest.mark.parametrize(
    ("state", "expected"),
    [
        (ConnectionState.NO_BOARD, (0, "")),
        (ConnectionState.CONNECTING, (0, "")),
        (ConnectionState.DISCONNECTED, (1, "disconnected")),
        (ConnectionState.REFUSED, (1, "board refused")),
        (ConnectionState.SETTINGS_REFUSED, (1, "settings refused")),
        (ConnectionState.ENDED, (1, "demo motor not started")),
    ],
)
def test_a_rig_that_lost_its_board_is_a_caution(state: ConnectionState, expected: tuple[int, str]) -> None:
    view = View("heron-1")
    view.connection = Connection(state)
    assert rank_and_tag(view, ZERO) == expected
    view.connection = Connection(ConnectionState.REFUSED, retry_s=5.0)  # as the far line calls it
    assert rank_and_tag(view, ZERO) == (1, "PC too slow")


def test_a_demo_motor_that_was_there_has_ended() -> None:
    view = ventilator(1.0)
    view.connection = Connection(ConnectionState.ENDED)
    assert rank_and_tag(view, ZERO + 1.0) == (1, "demo motor ended")


def test_silence_is_a_caution_when_it_has_lasted() -> None:
    view = ventilator(1.0)
    tags = [rank_and_tag(view, ZERO + now_s) for now_s in (1.5, 3.0, 9.0)]
    assert tags == [(0, ""), (1, "stale"), (1, "no samples")]


def alarm(name: str, rank: str = "alarm", rig: str = "heron-1", **said: object) -> dict[str, object]:
    """One as alarms are shown, raised and not seen by anybody."""
    nothing = dict.fromkeys(("acknowledged", "ended_utc_s", "held_until_utc_s", "shelved_until_utc_s"))
    return {"rig": rig, "name": name, "rank": rank, "raised_utc_s": ZERO, **nothing, **said}


def test_an_alarm_is_worse_than_a_failed_recording_and_that_than_a_caution() -> None:
    view = ventilator(1.0)
    caution, stalled = alarm("brush_wear", "caution", view.name), alarm("stalled", rig=view.name)
    assert rank_and_tag(view, ZERO + 1, {view.name: [caution]}) == (1, "brush wear")
    view.recorded = lambda: Recording(RecordingState.FAILED, reason="the disk is full")
    assert rank_and_tag(view, ZERO + 1, {view.name: [caution]}) == (1, "not recording")
    assert rank_and_tag(view, ZERO + 1, {view.name: [caution, stalled]}) == (2, "stalled")
    assert rank_and_tag(view, ZERO + 1, {"another": [stalled]}) == (1, "not recording")


def test_an_alarm_that_ended_unseen_is_a_caution_and_a_shelved_one_nothing() -> None:
    view = ventilator(1.0)
    ended = alarm("stalled", rig=view.name, ended_utc_s=ZERO + 1)
    assert rank_and_tag(view, ZERO + 1, {view.name: [ended]}) == (1, "stalled, ended")
    held = alarm("stalled", rig=view.name, held_until_utc_s=ZERO + 600)
    assert rank_and_tag(view, ZERO + 1, {view.name: [held]}) == (1, "stalled, not so now")
    shelved = alarm("stalled", rig=view.name, shelved_until_utc_s=ZERO + 900)
    assert rank_and_tag(view, ZERO + 1, {view.name: [shelved]}) == (0, "")


def test_the_alarms_of_all_rigs_stand_worst_first_and_a_flood_is_counted() -> None:
    seen = alarm("seen", acknowledged={"at_utc_s": ZERO}, raised_utc_s=ZERO + 9)
    first, last = alarm("first"), alarm("last", rig="heron-2", raised_utc_s=ZERO + 5)
    cautions = [alarm(f"look {k}", "caution", raised_utc_s=ZERO - k) for k in range(30)]
    record = alarms_record({"heron-1": [*cautions, seen, first], "heron-2": [last]}, {"heron-2": "not watched."})
    standing = cast(list[dict[str, object]], record["standing"])
    assert [each["name"] for each in standing[:4]] == ["last", "first", "seen", "look 0"]
    assert (len(standing), record["more"], record["trouble"]) == (20, 13, "heron-2: not watched.")


def test_the_worst_rig_comes_first_and_the_others_keep_their_order() -> None:
    views = [View(name) for name in ("a", "b", "c")]
    views[1].connection = Connection(ConnectionState.REFUSED)
    assert [rig["name"] for rig in bench_record(views, ZERO)] == ["b", "a", "c"]


def test_what_a_motor_did_last_is_not_what_it_does_when_its_wire_is_gone() -> None:
    view = ventilator(1.0)
    view.take(Output(instants=(instant(1.0, Reading("run_state", "running")),)), Sync())
    assert [rig["state"] for rig in bench_record([view], ZERO + 1)] == ["running"]
    for gone in (ConnectionState.DISCONNECTED, ConnectionState.ENDED, ConnectionState.REFUSED):
        view.connection = Connection(gone)
        assert [rig["state"] for rig in bench_record([view], ZERO + 1)] == ["unknown"]


def test_who_names_no_rig_is_shown_the_first_that_lives() -> None:
    saved, living = View("bench"), ventilator(1.0)
    assert shown_unasked([], ZERO) is None
    assert shown_unasked([saved, View("other")], ZERO) is saved
    assert shown_unasked([saved, living], ZERO + 1) is living


def test_a_demo_motor_that_is_about_to_start_counts_as_living_and_a_silent_port_does_not() -> None:
    silent, demo = View("bench"), View("heron-1", "cabin_ventilator")
    silent.connection = demo.connection = Connection(ConnectionState.CONNECTING)
    assert shown_unasked([silent, demo], ZERO) is demo
    assert shown_unasked([demo, ventilator(1.0)], ZERO + 1) is demo
    demo.connection = Connection(ConnectionState.ENDED)
    assert shown_unasked([silent, demo], ZERO) is silent
