"""Identity and descriptions, frame by frame -> what the board says of itself, complete. Pure bookkeeping."""

from dataclasses import dataclass, field
from typing import TypeAlias

from firmware_protocol import ChannelDescription, Identity, InputDescription

Saying: TypeAlias = Identity | ChannelDescription | InputDescription


@dataclass(frozen=True, slots=True)
class Description:
    """All that the board says of itself, complete.

    `set_channels`: the channels as they hold where a person said another thing of some; it is no part of what the
    board says.
    """

    identity: Identity
    channels: tuple[ChannelDescription, ...]
    inputs: tuple[InputDescription, ...]
    set_channels: tuple[ChannelDescription, ...] = field(default=(), compare=False)

    @property
    def held_channels(self) -> tuple[ChannelDescription, ...]:
        """The channels as they are read."""
        return self.set_channels or self.channels

    @property
    def messages(self) -> tuple[Saying, ...]:
        """The messages that say it, in the order in which a board sends them."""
        return (self.identity, *self.channels, *self.inputs)

    def holds(self, saying: Saying) -> bool:
        """The saying is a part of this description as it is."""
        if isinstance(saying, Identity):
            return saying == self.identity
        parts = self.channels if isinstance(saying, ChannelDescription) else self.inputs
        return saying.index < len(parts) and saying == parts[saying.index]


class Describer:
    """Takes sayings in any order and tells when they are complete; an identity begins a new description."""

    def __init__(self) -> None:
        self._identity: Identity | None = None
        self._channels: dict[int, ChannelDescription] = {}
        self._inputs: dict[int, InputDescription] = {}

    def started(self) -> None:
        """The board began anew: what it said before is no part of what it will say."""
        self._identity, self._channels, self._inputs = None, {}, {}

    def take(self, saying: Saying) -> Description | None:
        """The description if it is complete with this saying. A description said again is returned again."""
        if isinstance(saying, Identity):
            # What was said before it belongs to the last description, unless that had none: the stream began late.
            if self._identity is not None:
                self._channels, self._inputs = {}, {}
            self._identity = saying
        elif isinstance(saying, ChannelDescription):
            self._channels[saying.index] = saying
        else:
            self._inputs[saying.index] = saying
        return self._complete()

    def _complete(self) -> Description | None:
        who = self._identity
        if who is None:
            return None
        channels = [self._channels.get(index) for index in range(who.channels)]
        inputs = [self._inputs.get(index) for index in range(who.inputs)]
        if None in channels or None in inputs:
            return None
        return Description(who, tuple(filter(None, channels)), tuple(filter(None, inputs)))
