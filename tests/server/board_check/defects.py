"""Boards with one defect each, by the name of the check that has to find it."""

from collections.abc import Callable
from dataclasses import replace
from math import inf
from typing import Any

from firmware_protocol import (
    ChannelDescription,
    ClockReply,
    Counters,
    Decoder,
    Describe,
    Edges,
    Identity,
    InputDescription,
    Message,
    Received,
    Samples,
    Samples12,
    Singles,
    Start,
    Status,
    Stop,
    encode_frame,
)
from server.board_check.script import OTHER_VERSION, Voice, rubbish
from simulator.faults import Faults
from tests.server.board_check.boards import Wire, counter_described

STOPPED_S = 5.5  # since power-on: it has been told to stop by then, in a talk of the usual length


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


def silent(kind: type[Message], from_s: float, to_s: float = inf, group: int | None = None) -> Wire:
    """A board that for some time says nothing of this kind, or of this group."""

    def changed(wire: Wire, messages: list[Message]) -> list[Message]:
        def heard(each: Message) -> bool:
            its = isinstance(each, kind) and group in (None, getattr(each, "group", None))
            return not (its and from_s <= wire.now_s < to_s)

        return [each for each in counter_described(wire, messages) if heard(each)]

    return Wire(changed)


def counted_more(until_s: float) -> Wire:
    """Its counts go back to what they should be."""

    def changed(wire: Wire, messages: list[Message]) -> list[Message]:
        its = counter_described(wire, messages)
        early = wire.now_s < until_s
        return [replace(each, lost_edges=9) if early and isinstance(each, Status) else each for each in its]

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


def asked(data: bytes) -> list[Message]:
    """The good requests in it."""
    return [each.message for each in Decoder().feed(data) if isinstance(each, Received)]


def deaf_to(request: Message, from_s: float = 0.0) -> Wire:
    return Wire(
        counter_described, deaf=lambda wire, data: b"" if asked(data) == [request] and wire.now_s >= from_s else data
    )


def stops_at_rubbish() -> Wire:
    noise = rubbish(0, Voice())[:300]
    stop = encode_frame(Stop(), sequence=0)
    return Wire(counter_described, deaf=lambda _, data: stop + data if data.startswith(noise) else data)


def starts_at_describe() -> Wire:
    """At rest it takes a Describe for a Start."""
    start = encode_frame(Start(), sequence=0)

    def hears(wire: Wire, data: bytes) -> bytes:
        return data + start if wire.now_s > STOPPED_S and asked(data) == [Describe()] else data

    return Wire(counter_described, deaf=hears)


def described_for_any_version() -> Wire:
    ours = encode_frame(Describe(), sequence=0)
    return Wire(counter_described, deaf=lambda _, data: ours if asked(data) == [OTHER_VERSION] else data)


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
        return faults.apply(frame) if isinstance(message, data) and 1.5 < wire.now_s < 3.2 else faults.rest() + frame

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


def of_a_pulse_input(message: Message) -> list[Message]:
    assert isinstance(message, Counters)
    return [message, Counters(tuple(replace(each, input=0) for each in message.counts))]


def another_channel(message: Message) -> list[Message]:
    assert isinstance(message, ChannelDescription)
    return [message, replace(message, index=77)]


def standing(message: Message) -> list[Message]:
    assert isinstance(message, Status)
    return [replace(message, streaming=False)]


def other_levels(message: Message) -> list[Message]:
    assert isinstance(message, Status)
    return [replace(message, levels=message.levels ^ 1)]


DEFECTS: dict[str, Callable[[], Wire]] = {  # by the name of the check, some with a word on which of its sides
    "port": lambda: Wire(counter_described, gone_s=5.0),
    "identity": lambda: after(0, Identity, older),
    "boot number": lambda: Wire(counter_described, boot=77),
    "boot number: restarts": lambda: restarts(),
    "description": lambda: after(0, ChannelDescription, wild_range),
    "description: another channel": lambda: after(0.5, ChannelDescription, another_channel, once=True),
    "description again: identity alone": lambda: silent(ChannelDescription, 5.0, 13.1),
    "description again": lambda: without_description(5.0, 13.1),
    "frames": spoilt_block,
    "status": lambda: one_in(2, Status),
    "status: to the end": lambda: silent(Status, 6.75),
    "status: stands": lambda: after(0, Status, standing),
    "losses: back": lambda: counted_more(5.0),
    "losses": lambda: after(3.0, Status, more(dropped_blocks=1)),
    "blocks as described": lambda: after(3.0, Samples, other_group, once=True),
    "sample numbers": lambda: after(3.0, Samples, lambda _: [], once=True),
    "sample clock": lambda: after(3.0, Samples, more(tick=-1), once=True),
    "blocks in time": late_blocks,
    "blocks in time: silent": lambda: silent(Samples, 2.4, 3.6),
    "blocks in time: a silent group": lambda: silent(Samples12, 2.4, 3.6),
    "single samples: silent": lambda: silent(Singles, 2.4, 3.6),
    "single samples": lambda: after(3.0, Singles, renumbered),
    "edges": lambda: after(3.0, Edges, more(first_edge=1)),
    "edges: anew after Start": lambda: after(6.7, Edges, more(first_edge=-200)),
    "edges first": late_edge,
    "levels": lambda: after(3.0, Status, other_levels, once=True),
    "counters": lambda: one_in(8, Counters),
    "counters: silent": lambda: silent(Counters, 2.4, 4.8),
    "counters: of another input": lambda: after(2.0, Counters, of_a_pulse_input, once=True),
    "Describe": lambda: without_description(0.45, 2.0),
    "Start": lambda: deaf_to(Start(), STOPPED_S),
    "Stop": lambda: deaf_to(Stop()),
    "ClockRequest": lambda: after(3.0, ClockReply, more(token=1)),
    "at rest": lambda: starts_at_describe(),
    "at rest: deaf": lambda: deaf_to(Describe(), STOPPED_S),
    "ticks of now": lambda: after(2.0, ClockReply, more(received_tick=50_000, sent_tick=50_000), once=True),
    "another version: all of it": lambda: described_for_any_version(),
    "another version": lambda: deaf_to(OTHER_VERSION),
    "rubbish": stops_at_rubbish,
    "counting while stopped": forgets_to_count,
}
SECONDS = {
    "description again": 12.0,
    "description again: identity alone": 12.0,
    "counters": 3.5,
    "counters: silent": 3.5,
}
