"""A whole board passes every check; one with a defect fails on its own line and on no other."""

from dataclasses import replace

import pytest

from firmware_protocol import (
    ChannelDescription,
    ClockReply,
    Damage,
    DamageKind,
    Decoder,
    Identity,
    Message,
    Received,
    Status,
)
from server.board_check import CHECKS, Heard, Phase, Record, State
from server.board_check.record import DAMAGE_KEPT, STREAM
from simulator.faults import FAULTS
from tests.server.board_check.boards import STEP_S, Wire, counter_described, judged, slow_board, talked
from tests.server.board_check.broken import after, looking, noisy
from tests.server.board_check.defects import DEFECTS, SECONDS, more

BY_THE_LINE = {"line", "tick rate"}  # a defect of these is one of the line, or of the PC's view of the clock


@pytest.fixture(autouse=True)
def _blocks_are_long(monkeypatch: pytest.MonkeyPatch) -> None:
    """As the protocol allows, up to 50 ms: less to say, and so less to wait for."""
    monkeypatch.setattr("simulator.board.BLOCK_S_MAX", STEP_S)


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


@pytest.mark.parametrize("fault", [each for each in FAULTS if each not in ("late", "reset", "clock_step")])
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


def test_a_board_that_states_how_often_it_looks_passes() -> None:
    found = judged(talked(looking(200, stated=200), 2.2))
    assert [name for name, seen in found.items() if seen[0] is State.FAILED] == [], found
    assert found["looks"] == (State.PASSED, "looks 200 ticks apart are stated")


def test_a_board_that_is_slow_is_not_said_to_have_stopped() -> None:
    found = judged(talked(Wire(counter_described, make=slow_board), 3.0))
    assert [name for name, seen in found.items() if seen[0] is State.FAILED] == [], found
    assert found["Start"] == (State.NOT_TRIED, "its samples are too slow to tell")


def test_a_board_that_describes_fewer_channels_meanwhile_fails_in_nothing() -> None:
    def narrowed(wire: Wire, messages: list[Message]) -> list[Message]:
        its = counter_described(wire, messages)
        if wire.now_s < 2.5:
            return its
        anew = [replace(each, revision=1, channels=3) if isinstance(each, Identity) else each for each in its]
        return [each for each in anew if not (isinstance(each, ChannelDescription) and each.index == 3)]

    found = judged(talked(Wire(narrowed), 12.0))
    assert [name for name, seen in found.items() if seen[0] is State.FAILED] == [], found
    assert found["sample clock"][0] is State.NOT_TRIED


def test_a_tick_of_a_thousandth_of_a_second_is_no_fault_of_the_clock() -> None:
    """Answers hold whole ticks: 1 ms of them in a talk of some seconds is more than a crystal does."""
    record = talked(Wire(counter_described), 3.0)
    coarse = [replace(said.identity, tick_hz=1000, clock_tolerance_ppm=20.0) for said in [record.description] if said]
    for phase in record.phases:
        phase.heard = [Heard(each.at_s, coarser(each.item, coarse[0])) for each in phase.heard]
    seen = judged(record)["tick rate"]
    assert seen[0] is not State.FAILED, seen


def coarser(item: Received | Damage, identity: Identity) -> Received | Damage:
    assert isinstance(item, Received)
    message = item.message
    if isinstance(message, Identity):
        return replace(item, message=identity)
    if isinstance(message, ClockReply):
        ticks = (message.received_tick // 1000, message.sent_tick // 1000)
        return replace(item, message=replace(message, received_tick=ticks[0], sent_tick=ticks[1]))
    return item


def test_answers_that_contradict_each_other_are_no_matter_of_the_rate() -> None:
    early = judged(talked(after(2.0, ClockReply, more(received_tick=-80_000, sent_tick=-80_000), once=True), 3.0))
    assert [name for name, seen in early.items() if seen[0] is State.FAILED] == ["ticks of now"], early
    assert "-" not in early["tick rate"][1].partition("known to")[2], early["tick rate"]


def test_what_the_check_says_itself_is_numbered_as_it_asks_of_others() -> None:
    wire = Wire(counter_described)
    talked(wire, 2.2)
    found = Decoder().feed(wire.heard)
    assert sum(isinstance(each, Received) for each in found) > 12
    kinds = [each.kind for each in found if isinstance(each, Damage)]
    assert kinds.count(DamageKind.LOST) == 3  # the Stop, the Describe and the Start that it spoils
    assert all(each.frames == 1 for each in found if isinstance(each, Damage) and each.kind is DamageKind.LOST)


def test_rubbish_without_end_is_counted_and_not_kept() -> None:
    phase = Phase(STREAM, 0.0)
    for _ in range(DAMAGE_KEPT + 50):
        phase.add(Heard(0.0, Damage(DamageKind.SHORT, 0, 1, "short")))
    assert len(phase.heard) == DAMAGE_KEPT
    record = Record(1.0, None, [phase])
    assert f"{DAMAGE_KEPT + 50} short among 0" in {name: seen[1] for name, seen in judged(record).items()}["frames"]


def test_a_board_without_a_receive_line_is_only_listened_to() -> None:
    found = judged(talked(Wire(counter_described, deaf=lambda _, __: b""), 21.0, answers=False))
    assert [name for name, seen in found.items() if seen[0] is State.FAILED] == []
    unasked = {name for name, seen in found.items() if seen[1] == "nothing was asked of this board"}
    assert unasked >= {"tick rate", "ClockRequest", "Describe", "Start", "Stop", "rubbish"}
