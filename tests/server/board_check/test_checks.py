"""A whole board passes every check; one with a defect fails on its own line and on no other."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from firmware_protocol import (
    ChannelDescription,
    ClockReply,
    Counters,
    Describe,
    Edges,
    Identity,
    InputDescription,
    Message,
    Samples,
    Samples12,
    Singles,
    Start,
    Status,
    Stop,
    encode_frame,
)
from server.board_check import CHECKS, State
from server.board_check.script import rubbish
from simulator.faults import FAULTS, Faults
from tests.server.board_check.boards import Wire, counter_described, judged, talked


def after(at_s: float, kind: type[Message], change: Callable[[Message], list[Message]], once: bool = False) -> Wire:
    """A board that does this to each message of a kind from some time on, or to the first one."""

    def changed(wire: Wire, messages: list[Message]) -> list[Message]:
        out: list[Message] = []
        for message in counter_described(wire, messages):
            if isinstance(message, kind) and wire.now_s >= at_s and not (once and wire.held):
                wire.held.append(message)
                out += change(message)
            else:
                out.append(message)
        return out

    return Wire(changed)


def one_in(share: int, kind: type[Message]) -> Wire:
    def changed(wire: Wire, messages: list[Message]) -> list[Message]:
        out: list[Message] = []
        for message in counter_described(wire, messages):
            if isinstance(message, kind):
                wire.held.append(message)
                if len(wire.held) % share:
                    continue
            out.append(message)
        return out

    return Wire(changed)


def without_description(from_s: float, to_s: float) -> Wire:
    said = Identity | ChannelDescription | InputDescription

    def changed(wire: Wire, messages: list[Message]) -> list[Message]:
        silent = from_s <= wire.now_s < to_s
        return [each for each in counter_described(wire, messages) if not (silent and isinstance(each, said))]

    return Wire(changed)


def late_blocks() -> Wire:
    """Every block leaves 50 ms after its time, and the status does not wait for it."""
    queue: list[tuple[float, Message]] = []

    def changed(wire: Wire, messages: list[Message]) -> list[Message]:
        out: list[Message] = []
        for message in counter_described(wire, messages):
            if isinstance(message, Samples):
                queue.append((wire.now_s + 0.05, message))
            else:
                out.append(message)
        while queue and queue[0][0] <= wire.now_s:
            out.append(queue.pop(0)[1])
        return out

    return Wire(changed)


def late_edge() -> Wire:
    """One frame of edges leaves 30 ms late."""
    queue: list[tuple[float, Message]] = []

    def changed(wire: Wire, messages: list[Message]) -> list[Message]:
        out: list[Message] = []
        for message in counter_described(wire, messages):
            if isinstance(message, Edges) and wire.now_s > 3 and not wire.held:
                wire.held.append(message)
                queue.append((wire.now_s + 0.015, message))
            else:
                out.append(message)
        while queue and queue[0][0] <= wire.now_s:
            out.append(queue.pop(0)[1])
        return out

    return Wire(changed)


def deaf_to(request: bytes, from_s: float = 0.0) -> Wire:
    return Wire(counter_described, deaf=lambda wire, data: b"" if data == request and wire.now_s >= from_s else data)


def stops_at_rubbish() -> Wire:
    noise = rubbish(0)
    stop = encode_frame(Stop(), sequence=0)
    return Wire(counter_described, deaf=lambda _, data: stop + data if data.startswith(noise) else data)


def starts_at_describe() -> Wire:
    """At rest it takes a Describe for a Start."""
    start, describe = encode_frame(Start(), sequence=0), encode_frame(Describe(), sequence=11)
    return Wire(counter_described, deaf=lambda _, data: data + start if data == describe else data)


def described_for_any_version() -> Wire:
    other, ours = encode_frame(Describe(255, 255), sequence=2), encode_frame(Describe(), sequence=2)
    return Wire(counter_described, deaf=lambda _, data: ours if data == other else data)


def restarts() -> Wire:
    def changed(wire: Wire, messages: list[Message]) -> list[Message]:
        if wire.now_s > 3.0 and not wire.held:
            wire.held += messages
            wire.restart()
        return counter_described(wire, messages)

    return Wire(changed)


def noisy(fault: str) -> Wire:
    """A line that spoils some frames of what was measured."""
    faults, data = Faults(1, **{fault: 0.05}), Samples | Samples12 | Singles | Edges | Counters | Status

    def spoil(wire: Wire, frame: bytes, message: Message) -> bytes:
        return faults.apply(frame) if isinstance(message, data) and 2.5 < wire.now_s < 4.5 else faults.rest() + frame

    return Wire(counter_described, spoil=spoil)


def spoilt_block() -> Wire:
    def spoil(wire: Wire, frame: bytes, message: Message) -> bytes:
        if isinstance(message, Samples) and wire.now_s > 3 and not wire.held:
            wire.held.append(message)
            return frame[:9] + bytes((frame[9] ^ 0x40 or 1,)) + frame[10:]
        return frame

    return Wire(counter_described, spoil=spoil)


def forgets_to_count() -> Wire:
    """While it is stopped it counts no sample."""
    last: dict[int, int] = {}
    behind: dict[int, int] = {}

    def changed(wire: Wire, messages: list[Message]) -> list[Message]:
        out: list[Message] = []
        for message in counter_described(wire, messages):
            if isinstance(message, Samples):
                gap = message.first_sample - last.get(message.group, message.first_sample)
                behind[message.group] = behind.get(message.group, 0) + gap
                last[message.group] = message.first_sample + message.count
                message = replace(message, first_sample=message.first_sample - behind[message.group])
            out.append(message)
        return out

    return Wire(changed)


def older(message: Message) -> list[Message]:
    assert isinstance(message, Identity)
    return [replace(message, minor=message.minor - 1)]


def more(**values: int) -> Callable[[Message], list[Message]]:
    """So much more in these fields."""

    def changed(message: Message) -> list[Message]:
        other: Any = message
        return [replace(other, **{name: getattr(other, name) + value for name, value in values.items()})]

    return changed


def renumbered(message: Message) -> list[Message]:
    assert isinstance(message, Singles)
    return [Singles(tuple(replace(each, number=each.number + 5) for each in message.singles))]


def wild_range(message: Message) -> list[Message]:
    assert isinstance(message, ChannelDescription)
    return [replace(message, scale=1e15) if message.index == 0 else message]


def other_group(message: Message) -> list[Message]:
    assert isinstance(message, Samples)
    return [replace(message, group=9), message]


def other_levels(message: Message) -> list[Message]:
    assert isinstance(message, Status)
    return [replace(message, levels=message.levels ^ 1)]


DEFECTS: dict[str, Callable[[], Wire]] = {  # by the name of the check, some with a word on which of its sides
    "port": lambda: Wire(counter_described, gone_s=7.0),
    "identity": lambda: after(0, Identity, older),
    "boot number": lambda: Wire(counter_described, boot=77),
    "boot number: restarts": lambda: restarts(),
    "description": lambda: after(0, ChannelDescription, wild_range),
    "description again": lambda: without_description(5.0, 13.8),
    "frames": spoilt_block,
    "status": lambda: one_in(2, Status),
    "losses": lambda: after(3.0, Status, more(dropped_blocks=1)),
    "blocks as described": lambda: after(3.0, Samples, other_group, once=True),
    "sample numbers": lambda: after(3.0, Samples, lambda _: [], once=True),
    "sample clock": lambda: after(3.0, Samples, more(tick=-1), once=True),
    "blocks in time": late_blocks,
    "single samples": lambda: after(3.0, Singles, renumbered),
    "edges": lambda: after(3.0, Edges, more(first_edge=1)),
    "edges first": late_edge,
    "levels": lambda: after(3.0, Status, other_levels, once=True),
    "counters": lambda: one_in(8, Counters),
    "Describe": lambda: without_description(0.45, 2.0),
    "Start": lambda: deaf_to(encode_frame(Start(), sequence=12)),
    "Stop": lambda: deaf_to(encode_frame(Stop(), sequence=8)),
    "ClockRequest": lambda: after(3.0, ClockReply, more(token=1)),
    "at rest": lambda: starts_at_describe(),
    "at rest: deaf": lambda: deaf_to(encode_frame(Describe(), sequence=11)),
    "ticks of now": lambda: after(2.0, ClockReply, more(received_tick=50_000, sent_tick=50_000), once=True),
    "another version: all of it": lambda: described_for_any_version(),
    "another version": lambda: deaf_to(encode_frame(Describe(255, 255), sequence=2)),
    "rubbish": stops_at_rubbish,
    "counting while stopped": forgets_to_count,
}
SECONDS = {"description again": 12.0, "at rest: deaf": 4.5}  # then no description falls due while it is asked at rest
BY_THE_LINE = {"line", "tick rate"}  # a defect of these is one of the line, or of the PC's view of the clock


def test_every_check_has_a_defect() -> None:
    assert {name.partition(":")[0] for name in DEFECTS} | BY_THE_LINE == {check.name for check in CHECKS}


def test_a_whole_board_passes_every_check() -> None:
    found = judged(talked(Wire(counter_described), 12.0))
    assert {name: seen for name, seen in found.items() if seen[0] is not State.PASSED} == {}


@pytest.mark.parametrize("name", DEFECTS)
def test_a_defect_fails_on_its_own_line_and_on_no_other(name: str) -> None:
    found = judged(talked(DEFECTS[name](), SECONDS.get(name, 3.5)))
    on = {its for its, seen in found.items() if seen[0] is State.FAILED}
    assert on == {name.partition(":")[0]}, found


@pytest.mark.parametrize("fault", [each for each in FAULTS if each not in ("late", "reset")])
def test_noise_on_the_line_is_a_matter_of_frames_alone(fault: str) -> None:
    found = judged(talked(noisy(fault), 3.5))
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
    ahead = judged(talked(after(2.0, Status, more(tick=150_000), once=True), 3.5))
    state, what = ahead["ticks of now"]
    assert state is State.FAILED
    assert "came 149.9 ms before its tick" in what  # what comes takes 0.1 ms here


def test_a_board_without_a_receive_line_is_only_listened_to() -> None:
    found = judged(talked(Wire(counter_described, deaf=lambda _, __: b""), 21.0, answers=False))
    assert [name for name, seen in found.items() if seen[0] is State.FAILED] == []
    unasked = {name for name, seen in found.items() if seen[1] == "nothing was asked of this board"}
    assert unasked >= {"tick rate", "ClockRequest", "Describe", "Start", "Stop", "rubbish"}
