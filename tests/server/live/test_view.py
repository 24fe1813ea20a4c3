import json
import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from firmware_protocol import Role, Status
from server.config import Plate
from server.live.packing import pack
from server.live.records import Connection, ConnectionState, Recording, Shown
from server.live.view import EVENTS_KEPT, View
from server.pipeline import Output
from server.readings import DamageReport, Event, Instant, Reading, absent, doubtful
from tests.server.live.blocks import Sync, block, channel, described, sines
from tests.server.live.test_hall_ring import turning
from tests.server.live.unpack import unpack

ZERO = Sync().zero_utc_s


def instant(board_s: float, *readings: Reading, interval_s: float = 0.2) -> Instant:
    return Instant(0, round(board_s * 1e6), board_s, interval_s, readings)


def seen(view: View, now_s: float = 1.0, **wishes: Any) -> dict[str, Any]:
    """The picture as it comes out on the page at this board time."""
    return unpack(pack(view.picture(ZERO + now_s, **wishes)))


def ventilator(seconds: float = 1.0, **wave: float) -> View:
    view = View("heron-1")
    view.connection = Connection(ConnectionState.LIVE, since_utc_s=ZERO)
    view.motor = Shown("cabin ventilator", "permanent_split_capacitor", Plate(voltage_v=230.0), "board")
    view.take(Output(described=described(), samples=(block(sines(seconds, **wave)),), frames=10), Sync())
    frequency_hz = wave.get("frequency_hz", 50.0)
    readings = (Reading("frequency_hz", frequency_hz), Reading("phase_angle_deg", wave.get("lag_deg", 30.0)))
    view.take(Output(instants=(instant(seconds, *readings),)), Sync())
    return view


def test_a_rig_that_has_heard_nothing_has_a_whole_picture_without_drawings() -> None:
    picture = seen(View("heron-1"))
    assert picture["connection"]["state"] == "no_board"
    assert (picture["trace"], picture["strip"], picture["hall"], picture["board"]) == (None, None, None, None)
    assert picture["sample_utc_s"] is None


@pytest.mark.parametrize(("frequency_hz", "seconds"), [(50.0, 1.0), (50.0, 0.987), (59.7, 0.9), (16.7, 1.0)])
def test_three_cycles_begin_at_a_rising_zero_of_the_voltage(frequency_hz: float, seconds: float) -> None:
    trace = seen(ventilator(seconds, frequency_hz=frequency_hz), seconds)["trace"]
    start_s = trace["start_utc_s"] - ZERO
    assert trace["held_at"] == "rising zero of the voltage"
    assert trace["cycles"] == 3
    assert trace["span_s"] == pytest.approx(3 / frequency_hz)
    assert (start_s * frequency_hz + 0.5) % 1 - 0.5 == pytest.approx(0, abs=1e-3)
    assert seconds - 4.01 / frequency_hz <= start_s <= seconds - 3 / frequency_hz + 1e-6  # what a UTC float holds
    voltage = trace["lines"][0]
    assert voltage["peak"] == pytest.approx([-325, 325], rel=1e-3)
    assert abs(voltage["low"][0]) < 6  # a sample at 20 kS/s is at most 5.1 V from the zero
    assert not np.isnan(voltage["low"]).any()


def test_the_picture_stands_still_while_the_wave_goes_on() -> None:
    view, pictures = ventilator(1.0), []
    for k in range(30):
        at = 20_000 + 131 * k
        view.take(Output(samples=(block(sines(131 / 20_000, start_s=at / 20_000), at),)), Sync())
        pictures.append(seen(view)["trace"]["lines"][0]["high"])
    np.testing.assert_allclose(pictures, np.broadcast_to(pictures[0], (30, 600)), atol=11)  # two samples apart at most


def test_phase_and_power_are_those_of_the_wave() -> None:
    trace = seen(ventilator(lag_deg=30.0))["trace"]
    assert trace["zero_voltage_s"] == pytest.approx(0.02)
    assert trace["zero_current_s"] == pytest.approx(0.02 + 0.02 * 30 / 360)
    # u i = (UI/2)(cos 30 - cos(2wt - 30)): mean (325/2) cos 30; its negative part over its positive one by quadrature
    assert trace["power"]["mean"] == pytest.approx(162.5 * math.cos(math.radians(30)), rel=0.01)
    x = np.linspace(0, np.pi, 200_001)
    product = np.sin(x) * np.sin(x - np.pi / 6)
    back = -product[product < 0].sum() / product[product > 0].sum()
    assert trace["power"]["back_percent"] == pytest.approx(100 * back, rel=0.02)


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 2**31), st.integers(20, 900))
def test_a_picture_of_n_columns_holds_the_extremes_of_its_samples(seed: int, columns: int) -> None:
    values = np.random.default_rng(seed).normal(0, 1, (2, 3000))
    view = View("heron-1")
    view.take(Output(described=described(), samples=(block(values),)), Sync())
    trace = seen(view, columns=columns)["trace"]
    shown = values[:, 3000 - round(trace["span_s"] * 20_000) :].astype(np.float32)
    for line, samples in zip(trace["lines"], shown, strict=True):
        assert line["low"].size == line["high"].size == trace["columns"] == columns
        assert (np.nanmin(line["low"]), np.nanmax(line["high"])) == (samples.min(), samples.max())


def test_without_a_zero_crossing_the_last_stretch_of_the_same_width_is_shown() -> None:
    view = ventilator(1.0, frequency_hz=60.0)
    width = seen(view)["trace"]["span_s"]
    view.take(Output(samples=(block(np.zeros((2, 20_000)), 20_000),)), Sync())
    trace = seen(view, 2.0)["trace"]
    assert (trace["held_at"], trace["cycles"], trace["span_s"]) == ("", None, width)
    assert trace["start_utc_s"] == pytest.approx(ZERO + 2.0 - width)
    assert trace["zero_voltage_s"] is None


def test_a_doubtful_frequency_does_not_change_the_width() -> None:
    view = ventilator(1.0, frequency_hz=50.0)
    assert seen(view)["trace"]["span_s"] == 0.06
    strange = doubtful(Reading("frequency_hz", 38.6), "the supply went off in this window")
    view.take(Output(instants=(instant(1.0, strange),)), Sync())
    trace = seen(view)["trace"]
    assert (trace["held_at"], trace["span_s"]) == ("rising zero of the voltage", 0.06)
    view.take(Output(instants=(instant(1.2, absent("frequency_hz", "no voltage")),)), Sync())
    assert (seen(view)["trace"]["held_at"], seen(view)["trace"]["span_s"]) == ("", 0.06)


def test_a_gap_is_told_drawn_over_and_crossed_by_no_line() -> None:
    view = ventilator(1.0)
    start_s = seen(view)["trace"]["start_utc_s"] - ZERO
    missing = np.zeros(20_000, dtype=np.bool_)
    first = round((start_s + 0.03) * 20_000)
    missing[first : first + 200] = True
    view = View("heron-1")
    view.take(Output(described=described(), samples=(block(sines(1.0), missing=missing),)), Sync())
    view.take(Output(instants=(instant(1.0, Reading("frequency_hz", 50.0)),)), Sync())
    trace = seen(view)["trace"]
    assert trace["gaps"] == [pytest.approx([0.03, 0.04])]
    inside = slice(302, 398)  # columns of 0.1 ms
    assert np.isnan(trace["lines"][0]["low"][inside]).all()
    assert np.isnan(trace["power"]["low"][inside]).all()
    assert np.isnan(trace["lines"][0]["low"]).sum() <= 100


def test_clipping_is_told_for_the_line_that_clipped_while_it_is_in_the_picture() -> None:
    clipped = np.zeros((2, 20_000), dtype=np.bool_)
    clipped[1, 19_500] = True
    view = View("heron-1")
    view.take(Output(described=described(), samples=(block(sines(1.0), clipped=clipped),)), Sync())
    picture = seen(view)
    assert [line["clipped"] for line in picture["trace"]["lines"]] == [False, True]
    assert [one["clipped"] for one in picture["board"]["channels"]] == [0, 1]
    view.take(Output(samples=(block(sines(1.0, start_s=1.0), 20_000),)), Sync())
    assert [line["clipped"] for line in seen(view)["trace"]["lines"]] == [False, False]


def thruster(rate_hz: float = 20_000.0) -> View:
    places = ((Role.VOLTAGE, "dc link"), (Role.CURRENT, "dc link"), (Role.CURRENT, "U"), (Role.CURRENT, "V"))
    channels = tuple(channel(k, role, place, 50.0, rate_hz) for k, (role, place) in enumerate(places))
    view = View("heron-2")
    view.motor = Shown("tender thruster", "brushless", Plate(pole_pairs=7))
    values = np.random.default_rng(1).normal(0, 1, (4, round(rate_hz)))
    view.take(Output(described=described(halls=True), samples=(block(values, channels=channels),)), Sync())
    return view


def test_a_brushless_motor_shows_its_link_and_phase_currents_for_three_electrical_turns() -> None:
    view = thruster()
    view.take(Output(edges=turning(300.0, 1.0)), Sync())
    trace = seen(view)["trace"]
    assert [(line["role"], line["place"]) for line in trace["lines"]] == [
        ("voltage", "dc link"),
        ("current", "dc link"),
        ("current", "U"),
        ("current", "V"),
    ]
    assert trace["held_at"] == "Hall A rising"
    assert trace["span_s"] == pytest.approx(3 / 300.0, rel=1e-3)
    assert ((trace["start_utc_s"] - ZERO) * 300.0 + 0.5) % 1 - 0.5 == pytest.approx(0, abs=1e-3)
    assert seen(view)["hall"]["seen"] == [5, 1, 3, 2, 6, 4]


def test_a_brushless_motor_at_rest_shows_the_last_twenty_milliseconds() -> None:
    trace = seen(thruster())["trace"]
    assert (trace["held_at"], trace["span_s"]) == ("", 0.02)


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
    )
    view.take(Output(instants=(instant(1.0, *readings),)), Sync())
    shown = seen(view)["readings"]
    assert (shown["voltage_rms_v"]["confidence"], shown["voltage_rms_v"]["reason"]) == ("doubtful", "6 frames lost")
    assert (shown["torque_n_m"]["value"], shown["torque_n_m"]["confidence"]) == (None, "absent")
    assert shown["current_harmonics_a"]["value"] == [0.55, 0.01]
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
    }


def test_events_come_newest_first_and_forty_at_most() -> None:
    view = View("heron-1")
    for k in range(EVENTS_KEPT + 5):
        view.take(Output(events=(Event("mark", float(k), f"Event {k}", decisive=k % 2 == 0),)), Sync())
    events = seen(view)["events"]
    assert [event["text"] for event in events] == [f"Event {k}" for k in range(EVENTS_KEPT + 4, 4, -1)]
    assert events[0]["utc_s"] == ZERO + EVENTS_KEPT + 4


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
        "protocol": "0.9",
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


HOSTILE = '</script><img src=x onerror=alert(1)>"}\u2028\x1b[31m\0=cmd|/c calc!A1\ud800'


def test_hostile_text_from_a_board_stays_data_in_every_field() -> None:
    view = View(HOSTILE)
    view.connection, view.recording = Connection(text=HOSTILE, detail=HOSTILE, port=HOSTILE), Recording(reason=HOSTILE)
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
    assert picture["rig"] == picture["board"]["serial"] == picture["motor"]["name"] == safe
    assert picture["trace"]["lines"][0]["name"] == picture["board"]["channels"][0]["place"] == safe
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
