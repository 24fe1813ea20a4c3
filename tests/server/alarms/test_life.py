"""The life of an alarm, and its causes beside limits."""

import pytest

from server.alarms.engine import SHELF_MAX_S
from server.alarms.notice import Rank, Told
from server.alarms.rule import rules_of
from server.alarms.seen import PlanOutcome, Seen
from server.config import AlarmSettings
from server.readings import Confidence, Event, Reading
from server.verdict import Certainty, Sign, Speaks, Verdict
from tests.server.alarms.scenes import OVER, UTC_S, Bench, amps, only, state

DIP = AlarmSettings("dip", "caution", "Look at the supply", event="voltage_dip")
SIGN = Sign(Speaks.FOR, "0 A")
OPEN = Verdict(
    "phase_open", "Do all take part?", "Phase U carries no current.", Certainty.PLAIN, (Sign(Speaks.FOR, "0 A"),)
)


def raised() -> Bench:
    bench = Bench(only(OVER))
    bench.see(amps(4.0), seconds=1.4)
    return bench


def test_an_acknowledged_alarm_stands_while_it_is_so_and_is_gone_when_it_ends() -> None:
    bench = raised()
    bench.act("acknowledge", "over", "found a leaf", "phone")
    life = bench.life("over")
    assert life is not None
    assert life.acknowledged is not None
    assert (life.acknowledged.note, life.acknowledged.by) == ("found a leaf", "phone")
    bench.see(amps(1.0), seconds=1.4)
    assert bench.life("over") is None
    assert bench.told == [Told.RAISED, Told.ACKNOWLEDGED, Told.ENDED]


def test_an_alarm_that_ended_unacknowledged_stands_until_it_is_acknowledged() -> None:
    bench = raised()
    bench.see(amps(1.0), seconds=60.0)
    life = bench.life("over")
    assert life is not None
    assert life.ended_utc_s is not None
    bench.act("acknowledge", "over")
    bench.act("acknowledge", "over")  # twice is once
    assert bench.life("over") is None
    assert bench.told == [Told.RAISED, Told.ENDED, Told.ACKNOWLEDGED]


def test_one_that_comes_again_before_it_was_acknowledged_stands_for_both() -> None:
    bench = raised()
    bench.see(amps(1.0), seconds=1.4)
    bench.see(amps(4.0), seconds=1.4)
    life = bench.life("over")
    assert life is not None
    assert (life.more, life.ended_utc_s) == (1, None)
    first, second = bench.notices[0].id, bench.notices[2].id
    assert first != second
    assert [notice.story for notice in bench.notices] == [first] * 3
    assert bench.told == [Told.RAISED, Told.ENDED, Told.RAISED]


def test_a_moment_stands_until_it_is_acknowledged_and_more_of_them_are_counted() -> None:
    bench = Bench(only(DIP))
    for _ in range(13):
        bench.happen(Event("voltage_dip", 10.0, "Voltage dipped to 180 V", "78 % of the plate voltage"))
    life = bench.life("dip")
    assert life is not None
    assert life.why == "Voltage dipped to 180 V: 78 % of the plate voltage."
    assert life.more == 12
    bench.act("acknowledge", "dip")
    assert bench.told == [Told.RAISED, Told.ACKNOWLEDGED, Told.ENDED]
    assert bench.life("dip") is None


def test_without_a_setting_a_stall_says_switch_off_at_once() -> None:
    bench = Bench(rules_of(()))
    bench.see(state("stalled"), seconds=0.8)
    (notice,) = bench.notices
    assert (notice.rank, notice.act) == (Rank.ALARM, "Switch off")
    assert notice.why == "The motor is stalled; a stalled winding overheats in seconds."
    bench.see(state("resting"), seconds=0.8)
    assert bench.told == [Told.RAISED, Told.ENDED]


def test_a_stall_that_is_not_sure_must_last_longer_and_is_told_as_doubtful() -> None:
    bench = Bench(rules_of(()))
    bench.see(Reading("run_state", "stalled", Confidence.DOUBTFUL, "by the typical band"), seconds=1.8)
    assert bench.notices == []
    bench.see(Reading("run_state", "stalled", Confidence.DOUBTFUL, "by the typical band"), seconds=0.6)
    (notice,) = bench.notices
    assert notice.why.startswith("The motor is stalled, doubtful; ")


def test_a_board_that_is_gone_while_the_motor_ran_is_an_alarm_and_one_of_a_resting_motor_is_none() -> None:
    bench = Bench(rules_of(()))
    bench.see(state("running"), seconds=1.0)
    bench.wait(9.0)
    assert bench.notices == []
    bench.wait(2.0)
    assert [(its.kind, its.act) for its in bench.notices] == [(Told.RAISED, "Go and look at the motor")]
    assert "the motor was running when they stopped" in bench.notices[0].why
    bench.see(state("running"), seconds=0.2)
    bench.wait(0.5)
    assert bench.told == [Told.RAISED, Told.ENDED]
    resting = Bench(rules_of(()))
    resting.see(state("resting"), seconds=1.0)
    resting.wait(600.0)
    assert resting.notices == []


def test_the_hold_of_a_silence_goes_on_where_a_busy_service_looks_only_now_and_then() -> None:
    bench = Bench(only(AlarmSettings("gone", "alarm", "Go there", no_samples_s=5.0, hold_s=4.0)))
    bench.see(state("running"), seconds=1.0)
    bench.wait(7.5, tick_s=1.5)
    assert bench.notices == []
    bench.wait(3.0, tick_s=1.5)
    assert bench.told == [Told.RAISED]


def test_an_hour_in_which_the_pc_slept_is_no_hour_without_samples() -> None:
    bench = Bench(rules_of(()))
    bench.see(state("running"), seconds=1.0)
    bench.now_s += 3600.0
    bench.wait(1.0)
    bench.see(state("running"), seconds=1.0)
    assert bench.notices == []


def test_a_verdict_of_a_run_raises_its_ready_alarm_and_ends_it_ten_seconds_behind() -> None:
    bench = Bench(rules_of(()))
    bench.conclude(OPEN)
    assert [its.why for its in bench.notices] == [
        "Phase U carries no current; with a phase missing the others carry too much."
    ]
    bench.conclude(seconds=9.0)
    assert bench.told == [Told.RAISED]
    bench.conclude(seconds=2.0)
    assert bench.told == [Told.RAISED, Told.ENDED]


def test_events_that_are_dated_back_and_other_groups_do_not_begin_the_hold_of_a_verdict_anew() -> None:
    bench = Bench(only(AlarmSettings("phase_open", hold_s=3.0)))
    for _ in range(17):
        bench.conclude(OPEN)
        for back_s, readings in ((2.0, {}), (0.1, {"temperature_c": Reading("temperature_c", 40.0)})):
            event = Event("load_step", bench.board_s - back_s, "Load changed")
            its = (bench.now_s, bench.utc_s, bench.board_s - back_s, 0.5, readings)
            bench._step(Seen(*its, events=(event,), verdicts=(OPEN,)))
    assert bench.told == [Told.RAISED]
    assert bench.notices[0].at_utc_s - UTC_S == pytest.approx(100.2 + 3.0, abs=0.3)


def test_a_test_that_failed_is_told_once_and_over_when_it_was_seen_until_one_fails_anew() -> None:
    bench = Bench(rules_of((), planned=True))
    so_far, failed = (
        PlanOutcome("undecided", "3 of 10 cycles so far"),
        PlanOutcome("fail", "current was above 5 A in cycle 4"),
    )
    bench.wait(5.0)
    bench.wait(5.0, tested=so_far)
    assert bench.notices == []
    bench.wait(60.0, tested=failed)
    (notice,) = bench.notices
    its = (notice.rank, notice.act, notice.name)
    assert its == (Rank.ALARM, "Look at the motor, then at its test", "test_failed")
    why = "The test has failed: current was above 5 A in cycle 4; that stays so, however long it goes on."
    assert notice.why == why
    bench.act("acknowledge", "test_failed")
    bench.wait(60.0, tested=failed)
    assert bench.told == [Told.RAISED, Told.ACKNOWLEDGED, Told.ENDED]
    bench.wait(1.0, tested=so_far)  # another plan
    bench.wait(1.0, tested=failed)
    bench.wait(1.0, tested=PlanOutcome("pass", "its goals are reached"))
    assert bench.told[3:] == [Told.RAISED, Told.ENDED, Told.RAISED]
    assert bench.notices[-1].rank is Rank.CAUTION
    for outcome in ("unknown", "undecided"):  # its run has closed, and is summed up in a while
        bench.wait(1.0, tested=PlanOutcome(outcome, "a run is being summed up", waits=True))
    assert bench.told[6:] == []
    bench.wait(1.0, tested=PlanOutcome("unknown", "30 s of 60 s are without samples"))
    assert bench.told[6:] == [Told.ENDED, Told.RAISED]
    why = "The test has reached its goal and is undecided: 30 s of 60 s are without samples; "
    assert bench.notices[-1].why == f"{why}what is not known may hide a failure."
    bench.wait(1.0, tested=PlanOutcome("fail", "current was above 5 A in cycle 9", waits=True))
    assert bench.told[8:] == [Told.RAISED, Told.ENDED], "a failure is one whatever is read in a while"


def test_a_recording_that_fails_is_a_caution_with_its_reason() -> None:
    bench = Bench(rules_of(()))
    bench.wait(4.0, "no space left on device")
    assert bench.notices == []
    bench.wait(2.0, "no space left on device")
    (notice,) = bench.notices
    assert (notice.rank, notice.act) == (Rank.CAUTION, "Look at the disk of the PC")
    assert "no space left on device" in notice.why


def test_a_disk_that_has_room_for_less_than_an_hour_is_a_caution_until_it_has_for_two() -> None:
    bench = Bench(rules_of(()))
    bench.wait(20.0, room_s=3500.0)
    bench.wait(20.0, room_s=3700.0)
    assert bench.notices == []
    bench.wait(31.0, room_s=3500.0)
    (notice,) = bench.notices
    assert (notice.rank, notice.act) == (Rank.CAUTION, "Make room on the disk of the PC")
    assert "room for 58 min of samples" in notice.why
    bench.wait(60.0, room_s=5000.0)
    assert bench.told == [Told.RAISED]
    bench.wait(31.0, room_s=7300.0)
    assert bench.told == [Told.RAISED, Told.ENDED]


def test_a_shelved_alarm_is_told_of_no_more_and_comes_back_by_itself() -> None:
    bench = Bench(only(OVER))
    bench.see(amps(1.0))
    bench.act("shelve", "over", "trying a bigger load", "phone", for_s=60.0)
    bench.see(amps(4.0), seconds=30.0)
    assert bench.told == [Told.SHELVED]
    bench.see(amps(4.0), seconds=31.0)
    assert bench.told == [Told.SHELVED, Told.UNSHELVED, Told.RAISED]
    assert bench.notices[0].note == "trying a bigger load"
    assert bench.notices[1].more == 1, "it had come once meanwhile"


def test_a_shelf_has_a_longest_time_and_is_ended_by_hand() -> None:
    bench = raised()
    bench.act("shelve", "over", for_s=1e9)
    shelf = bench.state.watching["over"].shelf
    assert shelf is not None
    assert shelf.until_utc_s - bench.utc_s == SHELF_MAX_S
    bench.see(amps(1.0), seconds=1.4)
    bench.act("unshelve", "over", by="phone")
    assert bench.told == [Told.RAISED, Told.SHELVED, Told.ENDED, Told.UNSHELVED]
    assert bench.notices[-1].by == "phone"


def test_an_alarm_that_is_not_watched_any_more_ends_and_says_why() -> None:
    bench = raised()
    bench.rules = only()
    bench.see(amps(4.0))
    assert bench.told == [Told.RAISED, Told.ENDED]
    assert bench.notices[-1].why == "Current, RMS was above 3\u00a0A. It is not watched any more."
    bench.act("acknowledge", "over")
    assert "over" not in bench.state.watching


def test_a_person_changes_a_ready_alarm_by_its_name_and_turns_it_off() -> None:
    (stalled,) = [rule for rule in rules_of([AlarmSettings("stalled", "caution")]) if rule.name == "stalled"]
    assert (stalled.rank, stalled.its.act) == (Rank.CAUTION, "Switch off")
    assert [rule for rule in rules_of([AlarmSettings("stalled", "off")]) if rule.name == "stalled"] == []
