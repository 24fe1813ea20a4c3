"""One that keeps coming: folded into the alarm that stands, counted, told now and then, over when it was quiet."""

import pytest

from server.alarms.life import Life
from server.alarms.notice import Told
from server.alarms.rule import rules_of
from tests.server.alarms.scenes import OVER, UTC_S, Bench, amps, doubtful_amps, only, state


def standing(bench: Bench, name: str) -> Life:
    """The alarm of that name, which stands."""
    life = bench.life(name)
    assert life is not None
    return life


def test_one_that_chatters_is_told_three_times_and_then_counted_until_it_is_quiet_for_ten_minutes() -> None:
    bench = Bench(only(OVER))
    first_utc_s = bench.utc_s + 1.2
    for _ in range(15):
        bench.see(amps(4.0), seconds=1.4)
        bench.see(amps(1.0), seconds=5.0)
    life = bench.life("over")
    assert life is not None
    assert bench.told.count(Told.RAISED) == 3
    assert bench.told.count(Told.ENDED) == 2
    assert life.more == 14, "and 14 more like it"
    assert life.said == "Current, RMS was above 3\u00a0A."
    assert life.first_utc_s == pytest.approx(first_utc_s, abs=0.3)
    assert life.so_s == pytest.approx(15 * 1.4, abs=15 * 0.2)
    assert life.quiet_utc_s == pytest.approx(bench.utc_s - 4.8)
    assert life.held_until_utc_s == pytest.approx(bench.utc_s - 4.8 + 600.0)
    assert (life.act, life.first) == ("Switch off", "Look why it came")
    bench.see(amps(1.0), seconds=599.0)
    assert bench.told.count(Told.ENDED) == 3
    ended = bench.notices[-1]
    assert (ended.more, ended.why) == (14, "Current, RMS was above 3\u00a0A.")
    assert ended.act == "Look why it came", "there is nothing to switch off"
    assert ended.so_s == round(life.so_s, 1)


def test_one_that_is_held_and_so_again_is_told_in_the_present() -> None:
    bench = Bench(only(OVER))
    for _ in range(3):
        bench.see(amps(4.0), seconds=1.4)
        bench.see(amps(1.0), seconds=5.0)
    bench.see(amps(4.0))
    life = bench.life("over")
    assert life is not None
    assert (life.said, life.quiet_utc_s, life.held_until_utc_s) == ("Current, RMS is above 3\u00a0A.", None, None)


def test_one_that_is_held_stands_until_ten_minutes_after_it_was_last_so_whatever_cannot_be_told_meanwhile() -> None:
    bench = Bench(only(OVER))
    for _ in range(3):
        bench.see(amps(4.0), seconds=1.4)
        bench.see(amps(1.0), seconds=5.0)
    until_utc_s = standing(bench, "over").held_until_utc_s
    assert until_utc_s is not None
    assert until_utc_s == pytest.approx(bench.utc_s - 4.8 + 600.0)
    for _ in range(4):
        bench.see(doubtful_amps(1.0), seconds=60.0)
        bench.wait(30.0)
        bench.see(amps(1.0), seconds=50.0)
        assert standing(bench, "over").held_until_utc_s == until_utc_s
    bench.see(amps(1.0), seconds=until_utc_s - bench.utc_s - 1.0)
    assert bench.told.count(Told.ENDED) == 2
    bench.see(amps(1.0), seconds=1.2)
    assert bench.told.count(Told.ENDED) == 3


def test_one_that_is_held_says_nothing_of_a_run_state_that_was_not_known_once_it_is() -> None:
    bench = Bench(rules_of(()))
    for _ in range(3):
        bench.see(state("stalled"), seconds=10.0)
        bench.see(state("running"), seconds=60.0)
    bench.see(state("unknown"), seconds=1.0)
    assert standing(bench, "stalled").unknown == "the run state is not known"
    bench.see(state("running"), seconds=1.0)
    life = bench.life("stalled")
    assert life is not None
    assert life.unknown == ""
    assert life.said == "The motor was stalled; a stalled winding overheats in seconds."


def test_one_that_keeps_coming_is_told_at_once_and_then_at_most_each_ten_minutes_for_as_long_as_it_does() -> None:
    bench = Bench(only(OVER))
    begun_s = bench.now_s
    for _ in range(15):  # each two minutes, for half an hour
        bench.see(amps(4.0), seconds=4.0)
        bench.see(amps(1.0), seconds=118.0)
    again = [notice for notice in bench.notices if notice.kind is Told.AGAIN]
    assert [round((notice.at_utc_s - UTC_S - begun_s) / 60.0) for notice in again] == [6, 16, 26]
    assert [notice.more + 1 for notice in again] == [4, 9, 14], "times so far"
    assert bench.told.count(Told.RAISED) == 3
    bench.see(amps(1.0), seconds=600.0)
    assert bench.told[-1] is Told.ENDED
