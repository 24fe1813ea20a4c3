"""Ways in which a board can be broken: what it leaves out, says late, does not hear or tears."""

from collections.abc import Callable
from dataclasses import replace
from math import inf

from firmware_protocol import (
    ChannelDescription,
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
from tests.server.board_check.boards import STEP_S, Wire, counter_described

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


def _late(kind: type[Message], by_s: float, whether: Callable[[Wire], bool]) -> Wire:
    """Messages of this kind leave later than they should, and nothing waits for them."""
    queue: list[tuple[float, Message]] = []

    def changed(wire: Wire, messages: list[Message]) -> list[Message]:
        out: list[Message] = []
        for message in counter_described(wire, messages):
            if isinstance(message, kind) and whether(wire):
                wire.held.append(message)
                queue.append((wire.now_s + by_s, message))
            else:
                out.append(message)
        while queue and queue[0][0] <= wire.now_s:
            out.append(queue.pop(0)[1])
        return out

    return Wire(changed)


def late_blocks() -> Wire:
    """Every block leaves 50 ms after its time, and the status does not wait for it."""
    return _late(Samples, 0.05, lambda _: True)


def late_edge() -> Wire:
    """One frame of edges leaves a step late."""
    return _late(Edges, STEP_S / 2, lambda wire: wire.now_s > 3.1 and not wire.held)


def looking(grid: int, stated: int | None = None) -> Wire:
    """It looks at its inputs every `grid` ticks, and states `stated`."""

    def looks(message: Message) -> Message:
        if isinstance(message, Edges):
            return replace(message, ticks=tuple(-(-tick // grid) * grid for tick in message.ticks))
        if isinstance(message, InputDescription) and message.index == 0:
            return replace(message, look_ticks=stated)
        return message

    return Wire(lambda wire, messages: [looks(each) for each in counter_described(wire, messages)])


def asked(data: bytes) -> list[Message]:
    """The good requests in it."""
    return [each.message for each in Decoder().feed(data) if isinstance(each, Received)]


def deaf_to(request: Message, from_s: float = 0.0, to_s: float = inf) -> Wire:
    def hears(wire: Wire, data: bytes) -> bytes:
        return b"" if asked(data) == [request] and from_s <= wire.now_s < to_s else data

    return Wire(counter_described, deaf=hears)


def stops_at_another_version() -> Wire:
    stop = encode_frame(Stop(), sequence=0)
    return Wire(counter_described, deaf=lambda _, data: data + stop if asked(data) == [OTHER_VERSION] else data)


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
