"""What is kept stays as it was, in a bounded place, and can be drawn and measured after the ring has moved on."""

from typing import Any

import numpy as np
import pytest

from server.live.arming import Wanted, What
from server.live.kept import HELD_MAX, KEPT_MAX, Shelf
from server.live.kept_picture import NoLineError, between_points, kept_trace
from server.live.two_points import Snap
from server.live.view import View
from server.pipeline import Output
from server.readings import Fast, StateChange
from tests.server.live.blocks import Sync, block, described, sines
from tests.server.live.kept_waves import kept
from tests.server.live.views import ZERO, ventilator

START = Wanted(What.START, 0.2, 1.5)


def go_on(view: View, from_s: float, seconds: float, lag_deg: float = 30.0) -> None:
    values = sines(seconds, start_s=from_s, lag_deg=lag_deg)
    view.take(Output(samples=(block(values, round(from_s * 20_000)),)), Sync())


def start(view: View, board_s: float) -> None:
    t = np.array([board_s + 0.01])
    change = StateChange(board_s, board_s + 0.01, "starting")
    view.take(Output(fast=(Fast(t, t, t, t, (change,)),)), Sync())


def test_a_held_picture_is_the_same_after_the_ring_has_moved_on() -> None:
    view = ventilator(3.0)
    assert view.seen is not None
    held = view.keeping.hold(view.seen)
    before = kept_trace(held, 1.0, 1.06, 600)
    go_on(view, 3.0, 9.0, lag_deg=120.0)
    assert kept_trace(held, 1.0, 1.06, 600) == before
    assert before["start_utc_s"] == pytest.approx(ZERO + 2.0)
    voltage = before["lines"][0]
    assert (voltage["role"], voltage["channel"]) == ("voltage", 0)
    assert voltage["zeros_s"] == pytest.approx([1.01, 1.02, 1.03, 1.04, 1.05], abs=1e-6)
    assert [round(at_s, 6) for at_s, _ in voltage["peaks"]] == [1.005, 1.015, 1.025, 1.035, 1.045, 1.055]
    assert len(voltage["samples"]["values"]) == 1201


def test_a_start_is_kept_once_all_that_follows_it_has_come() -> None:
    view = ventilator(2.0)
    view.keeping.arm(START, 2.0, ZERO + 2.0)
    go_on(view, 2.0, 1.0)
    start(view, 2.5)
    record: dict[str, Any] = view.keeping.record()
    assert record["armed"]["came"] is True
    go_on(view, 3.0, 0.9)
    assert not view.keeping.shelf.kept
    go_on(view, 3.9, 0.2)
    (found,) = view.keeping.shelf.kept
    assert (found.start_s, found.moment_s, found.end_s) == (2.3, 2.5, 4.0)
    assert view.keeping.armed is None
    start(view, 5.0)
    go_on(view, 4.1, 4.0)
    assert len(view.keeping.shelf.kept) == 1  # only the next one


def test_what_is_armed_is_told_to_every_viewer_and_can_be_taken_back() -> None:
    view = ventilator(2.0)
    view.keeping.arm(Wanted(What.CROSSING, reading="current_rms_a.L2", above=False, level=1.5), 2.0, ZERO + 2.0)
    told = view.picture(ZERO + 2.0)["keeping"]
    assert isinstance(told, dict)
    assert told["armed"]["text"] == "RMS current at L2 below 1.5 A"
    view.keeping.disarm()
    start(view, 2.5)
    go_on(view, 2.0, 4.0)
    assert view.keeping.record() == {"armed": None, "kept": [], "trouble": ""}


def test_a_board_that_starts_anew_ends_what_follows_a_start_and_not_the_waiting_for_one() -> None:
    view = ventilator(2.0)
    view.keeping.arm(START, 2.0, ZERO)
    view.take(Output(described=described(boot=2), anew=True, samples=(block(sines(1.0)),)), Sync())
    assert view.keeping.armed is START
    start(view, 0.5)
    view.take(Output(described=described(boot=3), anew=True, samples=(block(sines(1.0)),)), Sync(ZERO + 100.0))
    (found,) = view.keeping.shelf.kept
    assert (found.start_s, found.moment_s, found.end_s) == (0.3, 0.5, 1.0)
    assert found.start_utc_s == pytest.approx(ZERO + 0.3)  # of the clock that it had


def test_a_start_that_is_told_when_its_samples_are_gone_is_said_to_be_lost() -> None:
    view = ventilator(2.0)
    view.keeping.arm(Wanted(What.START, 0.0, 0.1), 0.0, ZERO)
    go_on(view, 2.0, 12.0)
    start(view, 1.0)
    assert "held no more; the run has them" in str(view.keeping.record()["trouble"])
    assert not view.keeping.shelf.kept


def test_only_the_newest_are_kept_and_those_on_purpose_apart_from_those_that_pages_hold() -> None:
    view = ventilator(2.0)
    assert view.seen is not None
    first = view.keeping.hold(view.seen)
    for k in range(KEPT_MAX + 2):
        view.keeping.arm(Wanted(What.START, 0.0, 0.1), 0.0, ZERO)
        start(view, 1.0 + k / 100)
    for _ in range(HELD_MAX - 1):
        view.keeping.hold(view.seen)
    shelf = view.keeping.shelf
    assert (len(shelf.kept), len(shelf.held)) == (KEPT_MAX, HELD_MAX)
    assert shelf.get(first.number) is first
    view.keeping.hold(view.seen)
    assert shelf.get(first.number) is None
    newest = shelf.kept[-1].number
    assert shelf.drop(newest)
    assert not shelf.drop(newest)


def test_bytes_are_bounded_too(monkeypatch: pytest.MonkeyPatch) -> None:
    shelf, one = Shelf(), kept()
    monkeypatch.setattr("server.live.kept.BYTES_MAX", 2.5 * one.bytes)
    for _ in range(5):
        shelf.put(one)
    assert len(shelf.held) == 2


def test_two_points_tell_time_values_and_the_stretch_between() -> None:
    told = between_points(kept(), (0.01, 0, Snap.SAMPLE), (0.05, 0, Snap.SAMPLE))
    assert told["time_s"]["value"] == pytest.approx(0.04)
    assert told["angle_deg"]["value"] == pytest.approx(720.0)
    assert told["voltage_rms_v"]["value"] == pytest.approx(325.0 / 2**0.5, rel=1e-4)
    assert told["active_power_w"]["value"] == pytest.approx(325.0 * np.cos(np.radians(30.0)), rel=1e-4)
    assert all(each["u95"] > 0 for each in told.values())
    backwards = between_points(kept(), (0.05, 0, Snap.SAMPLE), (0.01, 0, Snap.SAMPLE))
    assert backwards["energy_j"] == told["energy_j"]


def test_a_line_that_is_not_kept_and_a_stretch_that_is_none_are_refused() -> None:
    with pytest.raises(NoLineError, match="channel 7"):
        between_points(kept(), (0.01, 7, Snap.FREE), (0.05, 0, Snap.FREE))
    with pytest.raises(ValueError, match="ends before it begins"):
        kept_trace(kept(), 0.2, 0.2, 100)
