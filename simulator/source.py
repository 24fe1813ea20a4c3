"""What a software board measures: the contract between a source of signals and the board.

A source gives signals in SI units over stretches of board time; it knows no code, frame or port.
The board asks for stretches one after another, always the same ones, whatever its caller does.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from firmware_protocol import ChannelDescription, InputDescription
from firmware_protocol import Source as SourceKind


@dataclass(frozen=True, slots=True)
class About:
    """What the board says of itself on behalf of its source."""

    kind: SourceKind
    model: str
    plate: str = ""  # TOML as in a rig's settings, or empty
    tick_hz: int = 1_000_000
    clock_tolerance_ppm: float | None = None


@dataclass(frozen=True, slots=True)
class Happening:
    """The truth of a story: at `board_s` the story of this name set a control to a value."""

    board_s: float
    story: str
    control: str
    value: float


@dataclass(frozen=True, slots=True)
class TruthRow:
    """One line of the ground truth at `board_s`: a JSON object without its time. Never on the wire."""

    board_s: float
    kind: str
    values: Mapping[str, object]


@dataclass(frozen=True, slots=True)
class SlowValue:
    """One sample of an uneven channel, in the channel's unit."""

    channel: int
    tick: int
    value: float


def _no_ticks() -> NDArray[np.int64]:
    return np.zeros(0, np.int64)


def _no_states() -> NDArray[np.uint8]:
    return np.zeros(0, np.uint8)


@dataclass(frozen=True, slots=True)
class Stretch:
    """Everything between two ticks: the first included, the last not.

    `groups[g]` has shape (channels of group g, sample sets), in the order of the channel index.
    `edge_ticks` int64 and `edge_states` uint8 (levels on the wires) have shape (edges,). Slow values
    and edges stand in order of their ticks; an edge may be stamped later than the end of its stretch
    by the input's delay, never later than an edge of the next one.
    """

    groups: tuple[NDArray[np.float64], ...] = ()
    slow: tuple[SlowValue, ...] = ()
    edge_ticks: NDArray[np.int64] = field(default_factory=_no_ticks)
    edge_states: NDArray[np.uint8] = field(default_factory=_no_states)
    happenings: tuple[Happening, ...] = ()
    truth: tuple["TruthRow", ...] = ()


class BoardSource(Protocol):
    """Signals at the terminals of a board."""

    @property
    def about(self) -> About: ...

    @property
    def channels(self) -> tuple[ChannelDescription, ...]: ...

    @property
    def inputs(self) -> tuple[InputDescription, ...]: ...

    @property
    def levels(self) -> int:
        """What the input wires read at tick 0."""

    @property
    def end_tick(self) -> int | None:
        """Nothing comes at or after this tick; None: the source never ends."""

    @property
    def sample_sets(self) -> tuple[int, ...] | None:
        """Sample sets of each group before the source ends; None: it never ends."""

    def power_up(self, tick_s: float) -> None:
        """Called once before the first stretch: how long a tick of this board lasts in true seconds."""

    def advance(self, first_tick: int, end_tick: int) -> Stretch:
        """The next stretch; sample k of a group is taken at k times its ticks per sample."""


def samples_before(tick: int, channel: ChannelDescription) -> int:
    """How many samples of an even channel are taken before `tick`: those with k * ticks_per_sample < tick."""
    if channel.ticks_per_sample is None:
        raise ValueError(f"channel {channel.index} ({channel.name}) is uneven")
    return -(-tick * channel.ticks_per_sample.denominator // channel.ticks_per_sample.numerator)


def grouped(channels: tuple[ChannelDescription, ...]) -> tuple[tuple[ChannelDescription, ...], ...]:
    """The even channels by group, groups and channels in rising order.

    ValueError: groups are not 0, 1, 2 ..., or the channels of one have different rates.
    """
    numbers = sorted({channel.group for channel in channels if channel.group is not None})
    if numbers != list(range(len(numbers))):
        raise ValueError(f"groups are {numbers}, they count from 0")
    groups = tuple(tuple(channel for channel in channels if channel.group == number) for number in numbers)
    for number, members in enumerate(groups):
        if len({channel.ticks_per_sample for channel in members}) > 1:
            raise ValueError(f"group {number} has channels of different rates")
    return groups
