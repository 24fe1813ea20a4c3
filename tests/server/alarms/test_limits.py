"""Limits: when an alarm begins and ends, and what decides nothing."""

from dataclasses import replace

import pytest

from server.alarms.engine import step
from server.alarms.life import State
from server.alarms.notice import Rank, Told
from server.alarms.seen import Seen
from server.config import AlarmSettings
from server.readings import Confidence, Doubt, Reading, doubtful
from tests.server.alarms.scenes import OVER, Bench, amps, doubtful_amps, no_amps, only, state


def test_an_alarm_says_the_act_the_reading_the_value_and_the_limit() -> None:
    bench = Bench(only(OVER))
    bench.see(amps(3.2), seconds=1.4)
    (notice,) = bench.notices
    assert (notice.kind, notice.rank, notice.act) == (Told.RAISED, Rank.ALARM, "Switch off")
    assert notice.why == "Current, RMS is above 3\u00a0A."
    assert (notice.reading, notice.value, notice.limit) == ("current_rms_a", "3.200\u00a0A", "above 3\u00a0A")


def test_what_lasts_shorter_than_the_hold_raises_nothing() -> None:
    bench = Bench(only(OVER))
    for _ in range(5):
        bench.see(amps(5.0), seconds=0.8)
        bench.see(amps(2.0), seconds=0.2)
    assert bench.notices == []


def test_an_alarm_ends_only_when_the_reading_is_back_by_the_return_gap_for_the_hold() -> None:
    bench = Bench(only(OVER))
    bench.see(amps(3.2), seconds=1.4)
    bench.see(amps(2.6), seconds=5.0)  # inside the limit, not by the gap
    assert bench.told == [Told.RAISED]
    bench.see(amps(2.4), seconds=1.0)
    assert bench.told == [Told.RAISED]
    bench.see(amps(2.4), seconds=0.4)
    assert bench.told == [Told.RAISED, Told.ENDED]


def test_a_low_limit_counts_only_in_the_state_that_was_named() -> None:
    slow = AlarmSettings("slow", "caution", "Look", "current_rms_a", low=1.0, hold_s=1.0, state="running")
    bench = Bench(only(slow))
    bench.see(amps(0.0), state("resting"), seconds=5.0)
    bench.see(amps(0.5), state("starting"), seconds=5.0)
    assert bench.notices == []
    bench.see(amps(0.5), state("running"), seconds=2.0)
    bench.see(amps(0.0), state("resting"), seconds=2.0)
    assert bench.told == [Told.RAISED, Told.ENDED]


@pytest.mark.parametrize("reading", [doubtful_amps(9.0), no_amps(), amps(float("nan"))])
def test_a_number_that_cannot_be_trusted_raises_nothing(reading: Reading) -> None:
    bench = Bench(only(OVER))
    bench.see(reading, seconds=10.0)
    assert bench.notices == []


def test_what_is_known_to_be_at_least_so_much_raises_and_ends_nothing() -> None:
    bench = Bench(only(OVER))
    clipped = Reading("current_rms_a", 3.2, Confidence.DOUBTFUL, "clipped", doubt=Doubt.AT_LEAST)
    bench.see(replace(clipped, value=2.9), seconds=10.0)
    bench.see(doubtful(clipped, "and more"), seconds=10.0)
    assert bench.notices == []
    bench.see(clipped, seconds=1.4)
    (notice,) = bench.notices
    assert (notice.kind, notice.value) == (Told.RAISED, "at least 3.200\u00a0A")
    bench.see(replace(clipped, value=0.1), seconds=60.0)
    assert bench.told == [Told.RAISED]


def test_an_alarm_whose_reading_goes_absent_says_so_and_does_not_end() -> None:
    bench = Bench(only(OVER))
    bench.see(amps(3.2), seconds=1.4)
    bench.see(no_amps(), seconds=60.0)
    life = bench.life("over")
    assert bench.told == [Told.RAISED]
    assert life is not None
    assert life.unknown == "absent: no current channel"
    bench.see(amps(3.3))
    life = bench.life("over")
    assert life is not None
    assert (life.unknown, life.value) == ("", "3.300\u00a0A")


def test_an_alarm_whose_samples_stop_says_so_and_does_not_end() -> None:
    bench = Bench(only(OVER))
    bench.see(amps(3.2), seconds=1.4)
    bench.wait(60.0)
    life = bench.life("over")
    assert bench.told == [Told.RAISED]
    assert life is not None
    assert life.unknown == "no samples come"
    bench.see(amps(3.2))
    life = bench.life("over")
    assert life is not None
    assert life.unknown == ""


def test_one_doubtful_window_does_not_begin_the_hold_anew_and_many_do() -> None:
    bench = Bench(only(OVER))
    for reading in (*[amps(5.0)] * 3, doubtful_amps(5.0), *[amps(5.0)] * 3):
        bench.see(reading)
    assert bench.told == [Told.RAISED]
    bench = Bench(only(OVER))
    for reading in (*[amps(5.0)] * 3, *[doubtful_amps(5.0)] * 6, *[amps(5.0)] * 3):
        bench.see(reading)
    assert bench.notices == []


def test_a_channel_of_one_sample_in_ten_seconds_is_held_by_its_own_pace() -> None:
    hot = AlarmSettings("hot", "alarm", "Switch off", "temperature_c.winding", high=90.0, hold_s=15.0)
    known, told = State(1), []
    for k in range(4):
        reading = Reading("temperature_c", 95.0, place="winding")
        seen = Seen(10.0 * k, 1e9 + 10.0 * k, 10.0 * k, 10.0, {reading.id: reading})
        known, notices = step(known, only(hot), "bench", seen)
        told += [(k, notice.kind) for notice in notices]
    assert told == [(2, Told.RAISED)]


def test_a_burst_of_late_windows_raises_what_would_have_been_raised_in_time_and_no_more() -> None:
    bench = Bench(only(OVER))
    bench.see(amps(2.0))
    bench.now_s += 3600.0  # the service was stopped; what the system kept for it comes at one moment
    for k in range(40):
        bench.see(amps(3.5 if k == 20 else 2.0))
        bench.now_s -= 0.2
    assert bench.notices == []
    for _ in range(7):
        bench.see(amps(3.5))
        bench.now_s -= 0.2
    assert bench.told == [Told.RAISED]


def test_board_time_that_begins_anew_begins_the_hold_anew() -> None:
    bench = Bench(only(OVER))
    bench.see(amps(5.0), seconds=0.8)
    bench.board_s = 0.0
    bench.see(amps(5.0), anew=True)
    bench.see(amps(5.0), seconds=0.8)
    assert bench.notices == []
    bench.see(amps(5.0), seconds=0.4)
    assert bench.told == [Told.RAISED]
