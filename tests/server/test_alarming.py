"""The alarms of a rig that runs: what is kept over a start, what fails, whom it tells."""

import logging
from pathlib import Path

import pytest

from server import alarming as room
from server.alarming import Alarming
from server.alarms.engine import Act
from server.alarms.notice import Notice, Told
from server.alarms.seen import PlanOutcome
from server.config import AlarmSettings, Calling, RigSettings
from server.pipeline import Output
from server.readings import Event, Instant, Reading
from tests.server.live.blocks import Sync

ZERO = 1_795_600_000.0


def stalled(board_s: float, word: str = "stalled") -> Output:
    """A window of a motor in that state."""
    instant = Instant(0, 0, board_s, 0.2, (Reading("run_state", word),))
    return Output(instants=(instant,), clock=Sync())  # type: ignore[arg-type]


class Desk:
    """An Alarming with what it told."""

    def __init__(self, file: Path | None, *alarms: AlarmSettings, calling: Calling | None = None) -> None:
        self.now_s = ZERO
        self.notices: list[Notice] = []
        settings = RigSettings("bench", alarms=alarms, calling=calling or Calling())
        self.alarming = Alarming(settings, file, lambda: self.now_s, self.notices.append, lambda: "20261125-1402-bench")
        self.alarming.load()

    def stall(self, *board_s: float, word: str = "stalled") -> None:
        for each in board_s or (1.0, 1.2, 1.4, 1.6, 1.8):
            self.now_s += 0.2
            self.alarming.take(stalled(each, word))

    def wait(self, seconds: float) -> None:
        """Time passes and nothing comes."""
        for _ in range(round(2.0 * seconds)):
            self.now_s += 0.5
            self.alarming.tick(self.now_s)


def test_alarms_and_acknowledgements_survive_a_start_and_no_number_is_used_twice(tmp_path: Path) -> None:
    file = tmp_path / "alarms" / "bench.json"
    before = Desk(file)
    before.stall()
    before.alarming.act(Act("acknowledge", "stalled", before.now_s, "on my way", "phone"))
    before.alarming.write()
    after = Desk(file)
    (alarm,) = after.alarming.standing()
    assert alarm["acknowledged"] == {"at_utc_s": before.now_s, "note": "on my way", "by": "phone"}
    assert [notice.kind for notice in after.alarming.told] == [Told.RAISED, Told.ACKNOWLEDGED]
    after.stall(1.0, 1.2, 1.4, 1.6, 1.8)
    assert after.notices == [], "it is told already"
    after.stall(2.0, 2.2, 2.4, 2.6, 2.8, word="resting")
    assert [notice.kind for notice in after.notices] == [Told.ENDED]
    numbers = [notice.number for notice in [*before.notices, *after.notices]]
    assert len(set(numbers)) == 3
    assert len({notice.id for notice in [*before.notices, *after.notices]}) == 1


@pytest.mark.parametrize("content", [b"", b"{}", b'{"state": 3}', b"\x00\xff", b'{"format":99,"state":{"number":1}}'])
def test_a_file_that_cannot_be_read_is_set_aside_and_all_is_watched(
    tmp_path: Path, content: bytes, caplog: pytest.LogCaptureFixture
) -> None:
    file = tmp_path / "bench.json"
    file.write_bytes(content)
    desk = Desk(file)
    assert (tmp_path / "bench.json.unreadable").read_bytes() == content
    assert "alarms of bench that stood are not known" in caplog.text
    file.write_bytes(content + b" ")
    Desk(file)
    assert (tmp_path / "bench.json.unreadable").read_bytes() == content
    assert (tmp_path / "bench.json.unreadable2").read_bytes() == content + b" "
    desk.stall()
    assert [notice.kind for notice in desk.notices] == [Told.RAISED]


@pytest.mark.parametrize(("word", "told"), [("running", [Told.RAISED]), ("resting", [])])
def test_a_board_that_does_not_come_back_with_the_service_is_missed_where_its_motor_was_on(
    tmp_path: Path, word: str, told: list[Told]
) -> None:
    """Nothing is told before the power goes, so the state itself must have been kept."""
    before = Desk(tmp_path / "bench.json")
    before.stall(*(0.2 * k for k in range(60)), word="running")
    before.stall(12.0, word=word)
    before.alarming.tick(before.now_s)
    assert before.alarming.unkept is (word == "running"), "a file that does not exist says as much"
    before.alarming.write()
    after = Desk(tmp_path / "bench.json")
    after.wait(12.0)
    assert [notice.kind for notice in after.notices] == told


def test_a_board_that_is_gone_over_a_start_is_one_alarm_whose_silence_goes_on(tmp_path: Path) -> None:
    desk = Desk(tmp_path / "bench.json")
    desk.stall(*(0.2 * k for k in range(60)), word="running")
    for silent_s in (40.0, 70.0, 100.0):
        desk.wait(40.0 if silent_s == 40.0 else 30.0)
        (alarm,) = desk.alarming.standing()
        now_s = float(str(alarm["value"]).split()[0])
        assert now_s == pytest.approx(silent_s, abs=2.0)
        assert (alarm["more"], alarm["so_s"]) == (0, pytest.approx(now_s, abs=1.0))
        desk.alarming.write(last=True)
        desk = Desk(tmp_path / "bench.json")
    desk.wait(59.0)
    assert desk.notices == [], "it is told already"
    assert desk.alarming.unkept, "a service that is killed loses a minute at most"
    desk.stall(1.0, word="running")
    desk.wait(0.5)
    assert [notice.kind for notice in desk.notices] == [Told.ENDED]


def test_one_that_keeps_coming_goes_on_to_over_a_start(tmp_path: Path) -> None:
    before = Desk(tmp_path / "bench.json")

    def chatter(desk: Desk, times: int) -> None:
        for _ in range(times):
            for word in ("stalled", "running"):
                begun_s = desk.now_s - ZERO
                desk.stall(*(begun_s + 0.2 * k for k in range(1, 6)), word=word)

    chatter(before, 5)
    assert [its.kind for its in before.notices] == [*[Told.RAISED, Told.ENDED] * 2, Told.RAISED, Told.AGAIN]
    before.alarming.write()
    (held,) = before.alarming.standing()
    after = Desk(tmp_path / "bench.json")
    after.now_s = before.now_s + 20.0
    after.stall(*(after.now_s - ZERO + 0.2 * k for k in range(1, 6)), word="running")
    (alarm,) = after.alarming.standing()
    assert alarm["held_until_utc_s"] == held["held_until_utc_s"] is not None
    chatter(after, 3)
    assert after.notices == [], "that it keeps coming was told a moment ago"
    assert after.alarming.standing()[0]["more"] == 7


@pytest.mark.parametrize("named", [(), (AlarmSettings("test_failed", "caution"),)])
def test_a_test_that_failed_is_not_told_anew_after_a_start_and_no_more_without_its_plan(
    tmp_path: Path, named: tuple[AlarmSettings, ...]
) -> None:
    before = Desk(tmp_path / "bench.json", *named)
    before.alarming.test(PlanOutcome("fail", "current was above 5 A"))
    before.wait(1.0)
    before.alarming.act(Act("acknowledge", "test_failed", before.now_s))
    before.alarming.write()
    after = Desk(tmp_path / "bench.json", *named)
    after.wait(1.0)  # nobody has looked at the plan yet
    after.alarming.test(PlanOutcome("fail", "current was above 5 A"))
    after.wait(1.0)
    assert after.notices == []
    after.alarming.test(None)
    after.wait(1.0)
    assert not any(each.name == "test_failed" for each in after.alarming.rules)
    after.alarming.test(PlanOutcome("fail", "current was above 3 A"))
    after.wait(1.0)
    assert [each.kind for each in after.notices] == [Told.RAISED], "another plan"


def test_the_heat_of_a_motor_is_kept_over_a_start_though_nothing_was_told(tmp_path: Path) -> None:
    """Three times its current from cold: 46 s to the trip of class 10, 30 s before the start and 17 s after it."""
    notices: list[Notice] = []
    settings = RigSettings("bench", alarms=(AlarmSettings("overloaded"),))
    for seconds in (30, 17):
        desk = Alarming(settings, tmp_path / "bench.json", lambda: ZERO, notices.append, rated_a=lambda: 1.0)
        desk.load()
        assert notices == []
        for k in range(5 * seconds):
            instant = Instant(0, 0, 1.0 + 0.2 * k, 0.2, (Reading("current_rms_a", 3.0),))
            desk.take(Output(instants=(instant,), clock=Sync()))  # type: ignore[arg-type]  # it is asked for utc_s alone
        desk.write()
    assert [notice.kind for notice in notices] == [Told.RAISED]


def test_what_is_counted_and_not_told_is_kept_too_but_not_each_time(tmp_path: Path) -> None:
    dip = AlarmSettings("dip", "alarm", "Look at the supply", event="voltage_dip")
    desk = Desk(tmp_path / "bench.json", dip)

    def happen(times: int) -> None:
        for k in range(times):
            desk.alarming.take(Output(events=(Event("voltage_dip", 3.0 + k, "Voltage dipped"),), clock=Sync()))  # type: ignore[arg-type]

    happen(1)
    desk.alarming.write()
    happen(5)
    desk.wait(1.0)
    assert not desk.alarming.unkept
    desk.wait(10.0)
    assert desk.alarming.unkept
    desk.alarming.write()
    assert Desk(tmp_path / "bench.json", dip).alarming.standing()[0]["more"] == 5


def test_a_disk_that_refuses_is_told_and_tried_again(tmp_path: Path) -> None:
    (tmp_path / "alarms").write_text("a file where the folder should be")
    desk = Desk(tmp_path / "alarms" / "bench.json")
    desk.stall()
    desk.alarming.write()
    assert desk.alarming.trouble.startswith("Alarms are not kept over a start of the service (")
    (tmp_path / "alarms").unlink()
    desk.alarming.write()
    assert desk.alarming.trouble == ""
    assert not desk.alarming.unkept
    assert (tmp_path / "alarms" / "bench.json").exists()


def test_a_mistake_of_ours_is_shown_as_long_as_it_lasts_and_logged_once(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    desk = Desk(None)

    def breaks(*_: object) -> None:
        raise ZeroDivisionError("ours")

    with monkeypatch.context() as patched:
        patched.setattr(room, "step", breaks)
        desk.stall()
    assert desk.alarming.trouble.startswith("Alarms are not watched, by a mistake of Slipring's")
    assert len([record for record in caplog.records if record.levelno == logging.ERROR]) == 1
    desk.stall(2.0, 2.2, 2.4, 2.6, 2.8)
    assert desk.alarming.trouble == ""
    assert [notice.kind for notice in desk.notices] == [Told.RAISED]


def test_a_notice_says_whom_to_call_in_which_run_and_until_when_it_waits() -> None:
    calling = Calling("phone, office", "office", "00:00", "23:59")
    dip = AlarmSettings("dip", "caution", "Look at the supply", event="voltage_dip")
    desk = Desk(None, dip, calling=calling)
    desk.stall()
    desk.alarming.take(Output(events=(Event("voltage_dip", 3.0, "Voltage dipped"),), clock=Sync()))  # type: ignore[arg-type]
    alarm, caution = desk.notices
    assert (alarm.receivers, alarm.not_before_utc_s, alarm.run) == (("phone", "office"), None, "20261125-1402-bench")
    assert caution.receivers == ("office",)
    assert caution.not_before_utc_s is not None
    assert caution.not_before_utc_s > caution.at_utc_s


def test_a_rig_that_is_no_more_ends_its_alarms(tmp_path: Path) -> None:
    desk = Desk(tmp_path / "bench.json")
    desk.stall()
    desk.alarming.write()
    desk.alarming.end("bench is not watched any more.")
    assert [notice.kind for notice in desk.notices] == [Told.RAISED, Told.ENDED]
    assert not (tmp_path / "bench.json").exists()
