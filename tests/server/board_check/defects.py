"""Boards with one defect each, by the name of the check that has to find it."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from firmware_protocol import (
    ChannelDescription,
    ClockReply,
    Count,
    Counters,
    Describe,
    Edges,
    Identity,
    Message,
    SampleBlock,
    Samples,
    Samples12,
    Singles,
    Start,
    Status,
    Stop,
)
from server.board_check.script import OTHER_VERSION
from tests.server.board_check.boards import Wire, counter_described
from tests.server.board_check.broken import (
    STOPPED_S,
    after,
    counted_more,
    deaf_to,
    described_for_any_version,
    forgets_to_count,
    late_blocks,
    late_edge,
    looking,
    one_in,
    restarts,
    silent,
    spoilt_block,
    starts_at_describe,
    stops_at_another_version,
    stops_at_rubbish,
    without_description,
)


def older(message: Message) -> list[Message]:
    assert isinstance(message, Identity)
    return [replace(message, major=message.major - 1)]


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


def twice(message: Message) -> list[Message]:
    return [message, message]


def with_other_channels(message: Message) -> list[Message]:
    assert isinstance(message, Samples)
    return [replace(message, channels=1), message]


def in_another_word(message: Message) -> list[Message]:
    assert isinstance(message, Samples)
    return [replace(message, group=1, channels=1), message]


def with_an_unknown_level(message: Message) -> list[Message]:
    assert isinstance(message, Status)
    return [replace(message, levels=message.levels | 0x80)]


def eight_times(message: Message) -> list[Message]:
    return [message] * 8


def counted_back(message: Message) -> list[Message]:
    assert isinstance(message, Counters)
    return [Counters(tuple(replace(each, count=each.count - 3) for each in message.counts))]


def with_a_count(message: Message) -> list[Message]:
    return [message, Counters((Count(1, 99, 1_000_000),))]


def renamed(message: Message) -> list[Message]:
    assert isinstance(message, ChannelDescription)
    return [replace(message, name="another")]


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
    "status: back": lambda: after(2.5, Status, more(tick=-500_000), once=True),
    "losses: overruns": lambda: after(3.0, Status, more(overruns=1)),
    "losses: edges": lambda: after(3.0, Status, more(lost_edges=1)),
    "losses": lambda: after(3.0, Status, more(dropped_blocks=1)),
    "blocks as described: channels": lambda: after(3.0, Samples, with_other_channels, once=True),
    "blocks as described: word": lambda: after(3.0, Samples, in_another_word, once=True),
    "blocks as described: a silent group": lambda: silent(Samples12, 0.0),
    "sample numbers: twice": lambda: after(3.0, Samples, twice, once=True),
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
    "levels: of no input": lambda: after(3.0, Status, with_an_unknown_level, once=True),
    "levels": lambda: after(3.0, Status, other_levels, once=True),
    "looks": lambda: looking(200),
    "looks: more seldom than stated": lambda: looking(200, stated=150),
    "counters: too often": lambda: after(1.2, Counters, eight_times),
    "counters: back": lambda: after(2.5, Counters, counted_back, once=True),
    "counters": lambda: one_in(8, Counters),
    "counters: silent": lambda: silent(Counters, 2.4, 4.8),
    "counters: of another input": lambda: after(2.0, Counters, of_a_pulse_input, once=True),
    "Describe": lambda: without_description(0.45, 2.0),
    "description: renamed": lambda: after(3.0, ChannelDescription, renamed),
    "Start: late": lambda: silent(SampleBlock, 6.7, 7.33),
    "Stop: not at once": lambda: after(5.35, Status, with_a_count, once=True),
    "ClockRequest: no answer": lambda: silent(ClockReply, 2.0),
    "another version: stops": stops_at_another_version,
    "another version: silent": lambda: silent(SampleBlock, 3.4, 4.2),
    "rubbish: silent behind it": lambda: silent(SampleBlock, 4.2, 5.0),
    "rubbish: deaf behind it": lambda: deaf_to(Describe(), 4.25, 5.0),
    "Start": lambda: deaf_to(Start(), STOPPED_S),
    "Stop": lambda: deaf_to(Stop()),
    "ClockRequest: twice": lambda: after(3.0, ClockReply, twice, once=True),
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
