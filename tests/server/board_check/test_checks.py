"""A whole board passes every check; one with a defect fails on its own line and on no other."""

import pytest

from firmware_protocol import ClockReply, Status
from server.board_check import CHECKS, State
from simulator.faults import FAULTS
from tests.server.board_check.boards import Wire, counter_described, judged, talked
from tests.server.board_check.defects import DEFECTS, SECONDS, after, more, noisy

BY_THE_LINE = {"line", "tick rate"}  # a defect of these is one of the line, or of the PC's view of the clock


def test_every_check_has_a_defect() -> None:
    assert {name.partition(":")[0] for name in DEFECTS} | BY_THE_LINE == {check.name for check in CHECKS}


def test_a_whole_board_passes_every_check() -> None:
    found = judged(talked(Wire(counter_described), 12.0))
    assert {name: seen for name, seen in found.items() if seen[0] is not State.PASSED} == {}


@pytest.mark.parametrize("name", DEFECTS)
def test_a_defect_fails_on_its_own_line_and_on_no_other(name: str) -> None:
    found = judged(talked(DEFECTS[name](), SECONDS.get(name, 2.2)))
    on = {its for its, seen in found.items() if seen[0] is State.FAILED}
    assert on == {name.partition(":")[0]}, found


@pytest.mark.parametrize("fault", [each for each in FAULTS if each not in ("late", "reset")])
def test_noise_on_the_line_is_a_matter_of_frames_alone(fault: str) -> None:
    found = judged(talked(noisy(fault), 2.2))
    assert [name for name, seen in found.items() if seen[0] is State.FAILED] == ["frames"], found


def test_a_line_that_is_too_slow_and_a_clock_that_is_off_fail_on_their_lines() -> None:
    slow = judged(talked(Wire(counter_described), 3.0, bytes_per_s=4000.0))
    off = judged(talked(Wire(counter_described), 12.0, clock_ratio=1.002))
    assert [name for name, seen in slow.items() if seen[0] is State.FAILED] == ["line"]
    assert [name for name, seen in off.items() if seen[0] is State.FAILED] == ["tick rate"]


def test_an_answer_that_the_board_held_too_long_fails_by_its_own_ticks() -> None:
    held = judged(talked(after(3.0, ClockReply, more(received_tick=-150_000)), 3.5))
    assert held["ClockRequest"] == (State.FAILED, "by its own ticks the board held an answer for 150 ms")


def test_a_status_that_is_ahead_of_its_time_is_told_by_the_clock() -> None:
    ahead = judged(talked(after(2.0, Status, more(tick=150_000), once=True), 2.2))
    state, what = ahead["ticks of now"]
    assert state is State.FAILED
    assert "came 149.9 ms before its tick" in what  # what comes takes 0.1 ms here


def test_a_board_without_a_receive_line_is_only_listened_to() -> None:
    found = judged(talked(Wire(counter_described, deaf=lambda _, __: b""), 21.0, answers=False))
    assert [name for name, seen in found.items() if seen[0] is State.FAILED] == []
    unasked = {name for name, seen in found.items() if seen[1] == "nothing was asked of this board"}
    assert unasked >= {"tick rate", "ClockRequest", "Describe", "Start", "Stop", "rubbish"}
