"""What is waited for comes at its moment, once, whether a page is open or not."""

import numpy as np
import pytest

from server.config import RigSettings
from server.live.arming import Armed, Wanted, What
from server.live.view import View
from server.pipeline import Output, Pipeline
from server.readings import Confidence, Event, Fast, Instant, Reading, StateChange
from simulator.bench import bench_board
from tests.server.bench_stories import when
from tests.server.live.blocks import Sync

ABOVE_2 = Wanted(What.CROSSING, reading="current_rms_a", level=2.0)


def rows(amps: list[float], first_s: float = 0.0, changes: tuple[StateChange, ...] = ()) -> Output:
    t = first_s + 0.01 * np.arange(1, len(amps) + 1, dtype=np.float64)
    nothing = np.full(len(amps), np.nan)
    return Output(fast=(Fast(t, nothing, np.array(amps), nothing, changes),))


def window(board_s: float, reading: Reading) -> Output:
    return Output(instants=(Instant(round((board_s - 0.2) * 1e6), round(board_s * 1e6), board_s, 0.2, (reading,)),))


def test_a_row_that_comes_to_be_above_is_a_crossing_to_10_ms() -> None:
    assert Armed(ABOVE_2, 0.0).take(rows([0.5, 1.9, 2.1, 5.0])) == pytest.approx(0.02)


def test_what_is_above_already_has_to_come_back_first() -> None:
    armed = Armed(ABOVE_2, 0.0)
    assert armed.take(rows([3.0, 3.0])) is None
    assert armed.take(rows([3.0, float("nan"), 1.0, float("nan")], 0.02)) is None
    assert armed.take(rows([2.5], 0.06)) == pytest.approx(0.06)


def test_below_is_the_other_way_and_speeds_count_whichever_way_they_turn() -> None:
    t = 0.01 * np.arange(1, 4, dtype=np.float64)
    fast = Fast(t, t, t, np.array([-1400.0, -1200.0, -900.0]))
    slow = Armed(Wanted(What.CROSSING, reading="speed_rpm", above=False, level=1000.0), 0.0)
    assert slow.take(Output(fast=(fast,))) == pytest.approx(0.02)


def test_of_a_reading_without_rows_the_windows_tell_it() -> None:
    armed = Armed(Wanted(What.CROSSING, reading="active_power_w", level=100.0), 0.0)
    assert armed.take(window(0.2, Reading("active_power_w", 90.0))) is None
    gone = Reading("active_power_w", None, Confidence.ABSENT, "no voltage")
    assert armed.take(window(0.4, gone)) is None
    assert armed.take(window(0.6, Reading("active_power_w", 120.0))) == pytest.approx(0.5)


def test_a_start_before_it_was_armed_is_not_the_next_one_though_it_is_told_later() -> None:
    armed = Armed(Wanted(What.START), 1.0)
    before = StateChange(0.8, 1.2, "starting")
    assert armed.take(rows([1.0], 1.19, (before,))) is None
    assert armed.take(rows([1.0], 4.0, (StateChange(3.7, 4.01, "starting"),))) == 3.7


def test_a_start_too_short_to_be_a_state_is_told_by_its_end() -> None:
    ran = Event("running", 2.05, "Up to speed after 0.05 s", value=0.05)
    assert Armed(Wanted(What.START), 1.0).take(Output(events=(ran,))) == pytest.approx(2.0)


def played(motor: str, story: str, wanted: Wanted, seconds: float) -> View:
    """A view of a motor of the bench whose story was played with this armed from the first description on."""
    board, pipeline, view = bench_board(motor, story=story), Pipeline(RigSettings("r")), View("r")
    for _ in range(round(seconds / 0.1)):
        view.take(pipeline.push(board.step(0.1), 0.0), Sync())
        if view.keeping.shelf.last == 0 and view.keeping.armed is None and view.seen is not None:
            view.keeping.arm(wanted, view.seen.sample_s, 0.0)
    return view


def test_the_next_start_of_a_motor_of_the_bench_is_kept_with_what_was_before_it() -> None:
    view = played("bench_grinder", "start and load", Wanted(What.START, 0.2, 1.5), 4.0)
    (kept,) = view.keeping.shelf.kept
    assert view.keeping.armed is None
    assert (kept.why, kept.text) == ("start", "Start")
    assert kept.moment_s == pytest.approx(ON_S, abs=0.03)
    assert (kept.start_s, kept.end_s) == pytest.approx((kept.moment_s - 0.2, kept.moment_s + 1.5))
    assert kept.frequency is not None
    assert kept.frequency.value == pytest.approx(50.0, abs=0.01)
    assert kept.frequency.uncertainty is not None  # good, though a doubt is shown for a while after a start
    (cut,) = kept.cuts
    assert cut.first_s < kept.start_s
    assert cut.end_s >= kept.end_s
    volts = np.abs(cut.values[0])
    t = cut.first_s + np.arange(cut.count) / cut.rate_hz
    assert volts[t < ON_S - 0.001].max() < 5.0
    assert volts[t > ON_S].max() > 300.0


def test_the_next_crossing_of_a_current_is_kept_with_what_was_before_it() -> None:
    wanted = Wanted(What.CROSSING, 0.1, 0.5, "current_rms_a", above=True, level=10.0)
    (kept,) = played("bench_grinder", "start and load", wanted, 3.0).keeping.shelf.kept
    assert kept.text == "RMS current above 10 A"
    assert kept.moment_s == pytest.approx(ON_S, abs=0.03)  # a start draws 13.9 A
    assert kept.record()["moment_s"] == pytest.approx(0.1)


ON_S = when("bench_grinder", "start and load", "supply_on", 1.0)
