import json
import math
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from firmware_protocol import PROTOCOL_MAJOR, PROTOCOL_MINOR, Role, Status
from server.config import Plate, RigSettings
from server.live.packing import pack
from server.live.records import Connection, ConnectionState, Recording, Shown
from server.live.view import EVENTS_KEPT, View
from server.pipeline import Output, Pipeline
from server.readings import DamageReport, Event, Fast, Reading, StateChange, absent, doubtful
from server.stream.scaling import NAME_MAX, channel_of
from tests.server.live.blocks import Sync, block, channel, described, sines
from tests.server.live.unpack import unpack
from tests.server.live.views import ZERO, instant, seen, ventilator
from tests.server.tiny_board import TinyBoard


def test_a_rig_that_has_heard_nothing_has_a_whole_picture_without_drawings() -> None:
    picture = seen(View("heron-1"))
    assert picture["connection"]["state"] == "no_board"
    assert (picture["trace"], picture["strip"], picture["hall"], picture["board"]) == (None, None, None, None)
    assert picture["sample_utc_s"] is None


def test_each_reading_has_its_own_moment_and_ages_by_its_own_interval() -> None:
    view = View("heron-1")
    slow = instant(1.0, Reading("temperature_c", 54.0, place="winding"), interval_s=10.0)
    view.take(Output(instants=(slow, instant(2.0, Reading("current_rms_a", 0.55)))), Sync())
    for now_s, expected in ((2.9, ("", "")), (3.5, ("stale", "")), (8.0, ("absent", "")), (32.0, ("absent", "stale"))):
        readings = seen(view, now_s)["readings"]
        assert (readings["current_rms_a"]["aged"], readings["temperature_c.winding"]["aged"]) == expected
    assert readings["current_rms_a"]["value"] is None
    assert readings["current_rms_a"]["reason"] == "no samples for 30 s"
    assert readings["temperature_c.winding"]["value"] == 54.0
    assert readings["temperature_c.winding"]["at_utc_s"] == ZERO + 1.0


def test_doubtful_absent_and_listed_readings_travel_as_they_are() -> None:
    view = View("heron-1")
    readings = (
        doubtful(Reading("voltage_rms_v", 230.0), "6 frames lost"),
        absent("torque_n_m", "no torque channel on this board"),
        Reading("current_harmonics_a", (0.55, 0.01)),
        Reading("current_crest_factor", math.inf),
        doubtful(Reading("current_rms_a", 0.002, least=0.02), "6 frames lost"),
    )
    view.take(Output(instants=(instant(1.0, *readings),)), Sync())
    shown = seen(view)["readings"]
    assert (shown["voltage_rms_v"]["confidence"], shown["voltage_rms_v"]["reason"]) == ("doubtful", "6 frames lost")
    assert (shown["torque_n_m"]["value"], shown["torque_n_m"]["confidence"]) == (None, "absent")
    assert shown["current_harmonics_a"]["value"] == [0.55, 0.01]
    assert (shown["current_rms_a"]["value"], shown["current_rms_a"]["least"]) == (0.002, 0.02)
    assert "least" not in shown["voltage_rms_v"]
    assert (shown["current_crest_factor"]["value"], shown["current_crest_factor"]["confidence"]) == (None, "absent")


def test_a_live_connection_turns_stale_and_then_too_old_by_the_age_of_the_samples() -> None:
    view = ventilator(1.0)
    states = [seen(view, now_s)["connection"]["state"] for now_s in (1.5, 2.5, 7.0)]
    assert states == ["live", "stale", "too_old"]
    view.connection = replace(view.connection, since_utc_s=ZERO + 6.9)  # the cable was in again a moment ago
    assert seen(view, 7.0)["connection"]["state"] == "live"
    view.connection = Connection(ConnectionState.DISCONNECTED, "The cable is out")
    assert seen(view, 7.0)["connection"] == {
        "state": "disconnected",
        "text": "The cable is out",
        "detail": "",
        "since_utc_s": None,
        "port": "",
        "retry_s": None,
        "file": "",
    }


def test_events_come_newest_first_and_forty_at_most() -> None:
    view = View("heron-1")
    for k in range(EVENTS_KEPT + 5):
        view.take(Output(events=(Event("mark", float(k), f"Event {k}", decisive=k % 2 == 0),)), Sync())
    events = seen(view)["events"]
    assert [event["text"] for event in events] == [f"Event {k}" for k in range(EVENTS_KEPT + 4, 4, -1)]
    assert events[0]["utc_s"] == ZERO + EVENTS_KEPT + 4


def test_moments_are_told_to_a_microsecond_whatever_their_ticks() -> None:
    view = View("heron-1")
    moment_s = 50.529999999999994 + 1e-7
    told = Output(instants=(instant(moment_s, Reading("slip", 0.08)),), events=(Event("mark", moment_s, "Event"),))
    view.take(told, Sync())
    picture = seen(view, 51.0)
    moments = (picture["events"][0]["utc_s"], picture["readings"]["slip"]["at_utc_s"])
    assert moments == (round(ZERO + 50.53, 6), round(ZERO + 50.53, 6))


def test_damage_is_counted_by_kind_and_the_last_one_is_told() -> None:
    view = View("heron-1")
    reports = (
        DamageReport("checksum", 1.0, "A checksum differed", 1),
        DamageReport("lost", 1.1, "6 frames were lost", 6),
        DamageReport("gap", 1.2, "192 samples did not come", 0, 192),
        DamageReport("cut_start", None, "The stream began in the middle of a frame"),
    )
    view.take(Output(damage=reports, frames=100), Sync())
    damage = seen(view)["damage"]
    assert (damage["checksum"], damage["frames_lost"], damage["samples_missing"], damage["frames"]) == (1, 6, 192, 100)
    assert (damage["last_text"], damage["last_utc_s"]) == ("192 samples did not come", ZERO + 1.2)


def test_the_board_says_who_it_is_and_how_it_is() -> None:
    view = ventilator(1.0)
    view.take(Output(status=Status(1_250_000, True, 0, 3, 4, 0, 41.5, math.nan), frames=5), Sync())
    picture = seen(view)
    board = picture["board"]
    assert {
        key: board[key] for key in ("serial", "model", "protocol", "boot", "up_s", "temperature_c", "supply_v")
    } == {
        "serial": "S-1",
        "model": "M-1",
        "protocol": f"{PROTOCOL_MAJOR}.{PROTOCOL_MINOR}",
        "boot": 1,
        "up_s": 1.25,
        "temperature_c": 41.5,
        "supply_v": None,
    }
    assert (picture["damage"]["dropped_blocks"], picture["damage"]["overruns"]) == (3, 4)
    assert [one["place"] for one in board["channels"]] == ["supply", "line"]
    assert (picture["demo"], picture["source"]) == (False, "hardware")
    view.take(Output(described=described(source="demo")), Sync())
    assert (seen(view)["demo"], seen(view)["source"]) == (True, "demo")


def test_frames_a_second_are_those_of_the_last_two_seconds_and_none_once_stale() -> None:
    view = ventilator(1.0)
    for k in range(1, 300):
        view.take(Output(status=Status(1_000_000 + 10_000 * k, True, 0), frames=2), Sync())
    samples = block(sines(0.5, start_s=3.5), 70_000)
    view.take(Output(samples=(samples,)), Sync())
    assert seen(view, 4.0)["damage"]["frames_per_s"] == pytest.approx(200, rel=0.02)
    assert seen(view, 60.0)["damage"]["frames_per_s"] == 0


def test_the_limit_of_the_speed_stays_while_the_supply_comes_or_goes_and_goes_with_it() -> None:
    view = ventilator(1.0)
    view.take(Output(instants=(instant(1.0, Reading("run_state", "running")),)), Sync())
    told = (
        Reading("synchronous_speed_rpm", 1500.0),
        doubtful(Reading("synchronous_speed_rpm", 1160.0), "the supply was switched within the window"),
        absent("synchronous_speed_rpm", "too small for a frequency"),
    )
    seen_rpm = []
    for k, reading in enumerate(told):
        view.take(Output(instants=(instant(1.2 + 0.2 * k, reading),)), Sync())
        seen_rpm.append(seen(view)["strip"]["synchronous_speed_rpm"])
    assert seen_rpm == [1500.0, 1500.0, None]


def test_the_state_is_since_when_it_changed_and_the_strip_follows_it() -> None:
    view = ventilator(1.0)
    for board_s, state in ((1.0, "starting"), (1.2, "starting"), (1.4, "running"), (1.6, "running")):
        view.take(Output(instants=(instant(board_s, Reading("run_state", state)),)), Sync())
    view.take(Output(instants=(instant(1.6, Reading("synchronous_speed_rpm", 1500.0)),)), Sync())
    picture = seen(view)
    assert picture["state_since_utc_s"] == ZERO + 1.4
    assert picture["context"]["started_in_s"] is None
    assert [span["state"] for span in picture["strip"]["states"]] == ["starting", "running"]
    assert picture["strip"]["synchronous_speed_rpm"] == 1500.0
    assert seen(view, with_strip=False)["strip"] is None
    view.take(Output(events=(Event("running", 1.4, "Up to speed after 0.48 s", value=0.48),)), Sync())
    assert seen(view)["context"]["started_in_s"] == 0.48
    view.take(Output(instants=(instant(1.8, Reading("run_state", "starting")),)), Sync())
    assert seen(view)["context"]["started_in_s"] is None


def test_the_rows_tell_a_state_sooner_than_the_readings_and_since_when() -> None:
    view, t = ventilator(1.0), np.arange(101, 161, dtype=np.float64) * 0.01
    level: NDArray[np.float64] = np.ones(t.size)
    changes = (StateChange(1.05, 1.06, "starting"), StateChange(1.4, 1.55, "running"))
    readings = tuple(instant(at, Reading("run_state", state)) for at, state in ((1.2, "starting"), (1.6, "running")))
    view.take(Output(fast=(Fast(t, level, level, level, changes),), instants=readings), Sync())
    picture = seen(view)
    assert picture["state_since_utc_s"] == ZERO + 1.4
    spans = picture["strip"]["states"]
    assert [span["state"] for span in spans] == ["starting", "running"]
    start_s = picture["strip"]["start_utc_s"] - ZERO
    assert (start_s + spans[0]["to_s"], start_s + spans[1]["from_s"]) == pytest.approx((1.4, 1.4))


def test_what_is_told_late_stands_where_it_happened_among_the_events() -> None:
    view = View("heron-1")
    for board_s in (1.0, 4.0, 5.0, 3.0):
        view.take(Output(events=(Event("mark", board_s, f"{board_s:.0f}"),)), Sync())
    assert [event["text"] for event in seen(view)["events"]] == ["5", "4", "3", "1"]
    for k in range(EVENTS_KEPT):
        view.take(Output(events=(Event("mark", 10.0 + k, "later"),)), Sync())
    view.take(Output(events=(Event("mark", 2.0, "too old to be kept"),)), Sync())
    assert [event["text"] for event in seen(view)["events"]] == ["later"] * EVENTS_KEPT


def test_a_board_that_began_anew_begins_its_rings_anew() -> None:
    view = ventilator(1.0)
    later = Sync(ZERO + 100.0)
    view.take(Output(described=described(boot=2), samples=(block(sines(0.1)),)), later)
    picture = seen(view, 100.1)
    assert picture["sample_utc_s"] == pytest.approx(ZERO + 100.1)
    assert picture["board"]["boot"] == 2
    assert np.isnan(picture["trace"]["lines"][0]["low"]).sum() == 0
    assert picture["damage"]["frames"] == 10  # the same board: its counts go on


def test_another_board_takes_nothing_over() -> None:
    view = ventilator(1.0)
    view.take(Output(instants=(instant(1.0, Reading("run_state", "running")),)), Sync())
    view.take(Output(described=described(serial="S-2")), Sync())
    picture = seen(view)
    assert picture["readings"] == {}
    assert (picture["strip"], picture["trace"], picture["state_since_utc_s"]) == (None, None, None)
    assert picture["damage"]["frames"] == 0


def test_what_a_new_description_does_not_name_is_drawn_no_more() -> None:
    board = described()
    channels = tuple(channel_of(said, board.identity.tick_hz) for said in board.channels)
    view = View("heron-1")
    view.take(Output(described=board, samples=(block(sines(0.1), channels=channels),)), Sync())
    view.take(Output(described=described()), Sync())
    assert len(seen(view)["trace"]["lines"]) == 2  # said again, it changes nothing
    louder = replace(board.channels[1], scale=1.0)
    view.take(Output(described=replace(board, channels=(board.channels[0], louder))), Sync())
    assert seen(view)["trace"] is None


def test_a_calibration_is_seen_in_the_channels_and_old_samples_are_not_drawn_with_new_ones() -> None:
    view = View("heron-1")
    board = described()
    channels = tuple(channel_of(said, board.identity.tick_hz) for said in board.channels)
    view.take(Output(described=board, samples=(block(sines(0.1), channels=channels),)), Sync())
    calibrated = tuple(replace(each, high=1.02 * each.high) for each in channels)
    view.take(Output(channels=calibrated, samples=(block(sines(0.1), channels=calibrated),)), Sync())
    assert view.health.channels == calibrated
    assert [line["range"][1] for line in seen(view)["trace"]["lines"]] == [each.high for each in calibrated]


HOSTILE = '</script><img src=x onerror=alert(1)>"}\u2028\x1b[31m\0=cmd|/c calc!A1\ud800'


def test_hostile_text_from_a_board_stays_data_in_every_field() -> None:
    view = View(HOSTILE, recorded=lambda: Recording(reason=HOSTILE))
    view.connection = Connection(text=HOSTILE, detail=HOSTILE, port=HOSTILE)
    view.motor = Shown(HOSTILE, HOSTILE, Plate(), HOSTILE)
    board = described(serial=HOSTILE)
    said = replace(board.channels[0], name=HOSTILE, place=HOSTILE, unit=HOSTILE)
    named = replace(channel(0, Role.VOLTAGE, HOSTILE, 400.0), name=HOSTILE, unit=HOSTILE)
    view.take(Output(described=replace(board, channels=(said,))), Sync())
    view.take(Output(samples=(block(sines(0.1)[:1], channels=(named,)),)), Sync())
    view.take(Output(events=(Event(HOSTILE, 0.1, HOSTILE, HOSTILE),)), Sync())
    view.take(Output(damage=(DamageReport("lost", 0.1, HOSTILE, 1),)), Sync())
    view.take(Output(instants=(instant(0.1, doubtful(Reading("a", HOSTILE, place=HOSTILE), HOSTILE)),)), Sync())
    raw = pack(view.picture(ZERO + 1))
    picture = unpack(raw)
    safe = HOSTILE.replace("\ud800", "?")
    assert picture["rig"] == picture["motor"]["name"] == picture["trace"]["lines"][0]["name"] == safe
    assert picture["board"]["serial"] == picture["board"]["channels"][0]["place"] == safe[:NAME_MAX]
    assert picture["events"][0]["text"] == picture["damage"]["last_text"] == safe
    assert picture["readings"][f"a.{safe}"]["reason"] == safe
    length = int.from_bytes(raw[:4], "little")
    assert b"\x1b" not in raw[: 4 + length]  # escaped by JSON: a log that prints the header is safe too
    json.loads(raw[4 : 4 + length])


def test_memory_is_bounded_whatever_a_board_claims() -> None:
    view = View("heron-1")
    for k in range(300):
        one = tuple(replace(each, group=k) for each in (channel(0, Role.VOLTAGE, "supply", 9.0),))
        view.take(Output(samples=(block(np.zeros((1, 5)), channels=one),)), Sync())
        names: NDArray[np.int64] = np.arange(20 * k, 20 * k + 20)
        view.take(Output(instants=(instant(1.0, *(Reading(f"r{name}", 1.0) for name in names)),)), Sync())
    assert len(view._rings) == 16
    assert len(seen(view)["readings"]) == 512


def test_a_speed_that_is_only_a_bound_is_no_curve_in_the_strip() -> None:
    """A shaft that was jammed at once: after its last edge only a bound is known, until it is proven to stand."""
    view = View("bench")
    jammed = ((0.5, 230.0, 1.5, 1400.0), (1.0, 230.0, 0.5, 1400.0), (0.02, 230.0, 1.5, 0.0), (1.5, 230.0, 1.5, 0.0))
    pipeline = Pipeline(RigSettings("bench"))
    for part in pipeline.push(TinyBoard().wire(jammed), 1000.0).parts:
        view.take(part, part.clock)
    strip = view.picture(1000.0)["strip"]
    assert isinstance(strip, dict)
    t = np.concatenate((strip["wide"]["t"], strip["rest"]["t"]))
    speeds = np.concatenate((strip["wide"]["speed"], strip["rest"]["speed_high"]))
    after = speeds[(t > 1.55) & np.isfinite(speeds)]  # the brake took 20 ms
    assert after.size > 50
    assert after.max() < 8.0  # as good as standing
