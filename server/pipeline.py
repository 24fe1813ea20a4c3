"""The heart: wire bytes in, readings, events and damage out. No I/O, no clock but the arrival times given.

Live service, replay and tests all make the same call, `Pipeline.push`.
"""

from dataclasses import dataclass

from firmware_protocol import ChannelDescription, Identity, InputDescription, Status
from server.readings import DamageReport, Event, Fast, Instant
from server.samples import EdgeTrain, Samples, SlowSample


@dataclass(frozen=True, slots=True)
class Description:
    """All that the board says of itself, complete."""

    identity: Identity
    channels: tuple[ChannelDescription, ...]
    inputs: tuple[InputDescription, ...]


@dataclass(frozen=True, slots=True)
class Output:
    """What one push brought to light, each list in board time order."""

    instants: tuple[Instant, ...] = ()
    fast: tuple[Fast, ...] = ()
    events: tuple[Event, ...] = ()
    damage: tuple[DamageReport, ...] = ()
    samples: tuple[Samples, ...] = ()  # new blocks as they came, for the picture
    slow: tuple[SlowSample, ...] = ()
    edges: EdgeTrain | None = None  # new edges of this push
    described: Description | None = None  # set when a description has become complete or has changed
    status: Status | None = None  # the newest status message of this push
    frames: int = 0  # good frames of this push
