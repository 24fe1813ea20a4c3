"""When a run opens and closes, and what belongs to it."""

from dataclasses import replace

import numpy as np
import pytest

from firmware_protocol import Damage, Decoder
from server.config import RigSettings
from server.pipeline import Output
from server.readings import Fast
from server.runs.course import Course
from server.runs.layout import Entry, Kind
from server.runs.life import HELD_BYTES_MAX, Life, Phase, Step
from server.runs.marks import CABLE_BACK, STARTED
from tests.server.tiny_board import CURRENT, VOLTAGE, TinyBoard

SETTINGS = RigSettings("bench", rest_closes_run_s=10.0)
REST = ((12.0, 0.0, 0.0, 0.0),)
RUN = ((1.0, 0.0, 0.0, 0.0), (0.4, 230.0, 1.5, 1400.0), (1.6, 230.0, 0.5, 1400.0))


class Driver:
    """Performs what the life says, as `Recording` does, and keeps what was recorded."""

    def __init__(self, settings: RigSettings = SETTINGS, continues: str | None = None) -> None:
        self.life, self.course = Life(settings, continues), Course(settings.name)
        self.recorded: list[Entry] = []
        self.now_s = 1000.0

    def perform(self, steps: list[Step]) -> list[Output]:
        shown = []
        for step in steps:
            if step.recorded:
                self.recorded.append(step.entry)
            output = self.course.perform(step.entry)
            if output is None or step.again:
                continue
            shown.append(output)
            assert self.course.pipeline is not None
            shown += self.perform(self.life.saw(output, self.course.pipeline.motor, self.now_s))
        return shown

    def feed(self, wire: bytes, size: int = 500, byte_s: float = 1e-4) -> list[Output]:
        shown = []
        for at in range(0, len(wire), size):
            self.now_s += size * byte_s
            shown += self.perform(self.life.chunk(wire[at : at + size], self.now_s))
        return shown

    @property
    def kinds(self) -> list[str]:
        """Kinds recorded, chunks in turn as one."""
        names = [entry.kind.name.lower() for entry in self.recorded]
        return [name for k, name in enumerate(names) if name != "chunk" or k == 0 or names[k - 1] != "chunk"]

    @property
    def bytes_recorded(self) -> bytes:
        return b"".join(entry.payload for entry in self.recorded if entry.kind is Kind.CHUNK)


def test_nothing_is_recorded_before_the_description_and_then_everything_since_the_first_byte() -> None:
    driver, wire = Driver(), TinyBoard().wire(RUN)
    driver.feed(wire[:200], 50)
    assert (driver.recorded, driver.life.phase) == ([], Phase.WAITING)
    driver.feed(wire[200:])
    assert driver.kinds == ["open", "begin", "chunk"]
    assert driver.bytes_recorded == wire


def test_what_is_held_for_the_description_is_bounded() -> None:
    driver, wire = Driver(), TinyBoard().wire(RUN)
    driver.feed(bytes(HELD_BYTES_MAX) + wire, 1 << 20)
    assert driver.kinds == ["open", "begin", "chunk"]
    assert len(driver.bytes_recorded) <= HELD_BYTES_MAX
    assert driver.bytes_recorded.endswith(wire)


def test_a_rest_of_the_time_set_closes_the_run_and_a_sign_of_life_opens_the_next_with_the_seconds_before() -> None:
    driver = Driver()
    board = TinyBoard()
    wire = board.wire((*REST, *RUN))
    driver.feed(wire)
    assert driver.kinds == ["open", "begin", "chunk", "close", "open", "begin", "kept", "chunk"]
    close = next(entry for entry in driver.recorded if entry.kind is Kind.CLOSE)
    assert close.text == "the motor was at rest for 0.166667 min"
    second = driver.recorded[driver.recorded.index(close) + 1 :]
    again = b"".join(entry.payload for entry in second if entry.kind in (Kind.KEPT, Kind.CHUNK))
    assert not [each for each in Decoder().feed(again) if isinstance(each, Damage)]
    assert wire.endswith(again[-5000:])
    assert second[1].utc_s == second[2].utc_s == second[3].utc_s


def test_a_run_that_opened_by_itself_begins_10_s_before() -> None:
    driver = Driver()
    driver.feed(TinyBoard().wire((*REST, (14.0, 0.0, 0.0, 0.0), *RUN)), byte_s=8e-5)  # about real time
    opened = [entry for entry in driver.recorded if entry.kind is Kind.OPEN][1]
    first_sign_s = driver.now_s - 2.0  # where the motor was switched on
    assert 9.0 < first_sign_s - opened.utc_s < 11.5


def test_a_person_ends_the_run_and_the_running_motor_opens_the_next_at_once_without_overlap() -> None:
    driver, wire = Driver(), TinyBoard().wire((*RUN, (2.0, 230.0, 0.5, 1400.0)))
    driver.feed(wire[:30_000])
    driver.perform(driver.life.end(driver.now_s))
    assert driver.life.phase is Phase.CLOSED
    driver.feed(wire[30_000:])
    assert driver.kinds == ["open", "begin", "chunk", "close", "open", "begin", "kept", "chunk"]
    whole = driver.bytes_recorded
    assert len(whole) <= len(wire)
    assert wire.endswith(whole[-3000:])


def test_a_cable_out_is_a_mark_and_the_same_board_goes_on_in_the_same_run() -> None:
    driver, wire = Driver(), TinyBoard().wire(RUN)
    driver.perform(driver.life.connected(driver.now_s))
    driver.feed(wire[:20_000])
    driver.perform(driver.life.disconnected(driver.now_s))
    driver.perform(driver.life.connected(driver.now_s + 5))
    driver.now_s += 5
    description = b"".join(TinyBoard().frames(RUN)[:5])
    driver.feed(description + wire[25_000:])
    assert driver.kinds == ["open", "begin", "chunk", "mark", "mark", "chunk"]
    assert driver.life.phase is Phase.RECORDING
    assert driver.bytes_recorded == wire[:20_000] + description + wire[25_000:]


def test_a_board_that_came_back_and_does_not_say_who_it_is_continues_no_run() -> None:
    driver, wire = Driver(), TinyBoard().wire(RUN)
    driver.feed(wire[:20_000])
    driver.perform(driver.life.disconnected(driver.now_s))
    driver.perform(driver.life.connected(driver.now_s))
    driver.feed(wire[20_000:22_000])
    assert driver.bytes_recorded == wire[:20_000]
    driver.now_s += 13
    driver.feed(wire[22_000:])
    assert driver.kinds == ["open", "begin", "chunk", "mark", "close"]
    assert driver.recorded[-1].text == "the board did not say who it is"
    description = b"".join(TinyBoard().frames(RUN)[:5])
    driver.feed(description)
    assert driver.kinds == ["open", "begin", "chunk", "mark", "close", "open", "begin", "chunk"]
    assert driver.bytes_recorded == wire + description


def test_another_board_never_continues_a_run() -> None:
    driver, one, other = Driver(), TinyBoard().wire(RUN), TinyBoard(serial="T-2").wire(RUN)
    driver.feed(one)
    driver.perform(driver.life.disconnected(driver.now_s))
    driver.perform(driver.life.connected(driver.now_s))
    driver.feed(other)
    assert driver.kinds == ["open", "begin", "chunk", "mark", "close", "open", "begin", "chunk"]
    second = b"".join(entry.payload for entry in driver.recorded[-(len(other) // 500 + 1) :])
    assert second.endswith(other[-500:])
    assert driver.bytes_recorded == one + other


def test_another_board_on_an_open_port_closes_the_run_too() -> None:
    driver, one, other = Driver(), TinyBoard().wire(RUN), TinyBoard(serial="T-2", boot=9).wire(RUN)
    driver.feed(one + other)
    assert driver.kinds == ["open", "begin", "chunk", "close", "open", "begin", "kept", "chunk"]


def closed(board: TinyBoard) -> Driver:
    """A run of this board that a person ended, and three seconds of rest after it."""
    driver = Driver()
    driver.feed(board.wire(((3.0, 0.0, 0.0, 0.0),)))
    driver.perform(driver.life.end(driver.now_s))
    driver.feed(replace(board, boot=2).wire(((3.0, 0.0, 0.0, 0.0),)))
    assert (driver.life.phase, driver.kinds[-1]) == (Phase.CLOSED, "close")
    return driver


@pytest.mark.parametrize("serial", ["T-1", "T-2"], ids=["the same board, rescaled", "another board"])
def test_a_board_at_rest_is_not_judged_by_the_levels_of_the_one_before(serial: str) -> None:
    driver = closed(TinyBoard(plate="", inputs=()))
    channels = (replace(VOLTAGE, offset=100.0), replace(CURRENT, scale=0.02, noise_codes_rms=None))
    driver.perform(driver.life.disconnected(driver.now_s))
    driver.perform(driver.life.connected(driver.now_s))
    driver.feed(TinyBoard(channels=channels, serial=serial, boot=3, plate="", inputs=()).wire(((3.0, 0.0, 0.0, 0.0),)))
    assert driver.life.phase is Phase.CLOSED


def test_direct_voltage_that_came_while_the_board_started_anew_opens_the_next_run() -> None:
    driver = closed(TinyBoard(plate="", inputs=()))
    pipeline = driver.course.pipeline
    assert pipeline is not None
    assert pipeline.description is not None
    again = replace(pipeline.description, identity=replace(pipeline.description.identity, boot=3))
    row = np.array([0.0])
    steady = Fast(row, row + 24.0, row, row)
    assert driver.life.saw(Output(described=again), pipeline.motor, driver.now_s) == []
    steps = driver.life.saw(Output(fast=(steady,)), pipeline.motor, driver.now_s)
    assert [step.entry.kind for step in steps][:3] == [Kind.OPEN, Kind.BEGIN, Kind.KEPT]


def test_a_run_left_open_is_continued_with_the_same_board_and_closed_for_another() -> None:
    for serial, kinds in (("T-1", ["mark", "begin", "chunk"]), ("T-9", ["close", "open", "begin", "chunk"])):
        driver = Driver(continues=serial)
        driver.feed(TinyBoard().wire(RUN))
        assert driver.kinds == kinds


@pytest.mark.parametrize(("looked_s", "marks"), [(1.0, [STARTED]), (3600.0, [STARTED, CABLE_BACK])])
def test_a_service_that_finds_its_board_late_says_that_the_cable_was_out_so_long(
    looked_s: float, marks: list[str]
) -> None:
    driver = Driver(continues="T-1")
    driver.life = Life(SETTINGS, "T-1", since_utc_s=driver.now_s - looked_s)
    driver.feed(TinyBoard().wire(RUN))
    told = [entry for entry in driver.recorded if entry.kind is Kind.MARK]
    assert [entry.text for entry in told] == marks
    assert told[-1].utc_s - told[0].utc_s == pytest.approx(looked_s if len(marks) > 1 else 0.0, abs=0.1)


def test_settings_are_recorded_when_they_change_and_the_service_leaves_the_run_open() -> None:
    driver, wire = Driver(), TinyBoard().wire(RUN)
    driver.feed(wire[:30_000])
    driver.perform(driver.life.change(replace(SETTINGS, stopped_rpm=9.0), driver.now_s))
    driver.feed(wire[30_000:])
    driver.perform(driver.life.stop(driver.now_s))
    assert driver.kinds == ["open", "begin", "chunk", "settings", "chunk", "mark"]
    assert driver.course.pipeline is not None
    assert driver.course.pipeline.settings.stopped_rpm == 9.0
