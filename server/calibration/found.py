"""What a measurement brought: the correction to what holds now, how sure, and the reading before and after. Records."""

from dataclasses import dataclass
from math import hypot

from server.calibration.entry import What
from server.quantities.uncertainty import Standard, combined, effective_dof
from server.samples import Channel, Part


class UnfitError(ValueError):
    """What is measured now is not fit for this calibration; the sentence says why and what to do."""


@dataclass(frozen=True, slots=True)
class Side:
    """A reading and its 95 % interval's half width, None where that is not known."""

    value: float
    u95: float | None


@dataclass(frozen=True, slots=True)
class Found:
    """`change`: what is to be done to the readings as they are now (zero: taken away, in the channel's unit; gain:
    multiplied; angle: seconds of more delay) and the parts of its uncertainty in the same unit.

    `before`, `after`: of a zero and a gain in the channel's unit, of an angle in degrees by which the current leads.
    `wanted`: what it should have read.
    """

    what: What
    change: float
    parts: list[Standard]
    before: Side
    after: Side
    wanted: Side
    frequency_hz: float | None = None

    @property
    def standard(self) -> float:
        return hypot(*(each[1] for each in self.parts))

    @property
    def dof(self) -> float:
        return effective_dof(self.parts)


def u95(parts: list[Standard]) -> float:
    """Half the 95 % interval of independent parts."""
    return combined(0.0, parts).half


def of_part(part: Part | None, unit: float, words: str) -> list[Standard] | None:
    """A channel's part as one of a budget; None: nobody states it."""
    return None if part is None else [(f"{words}: {part.origin}", part.standard * unit, part.dof)]


def known(*parts: list[Standard] | None) -> float | None:
    """The half width by all parts; None if one is not known."""
    if any(each is None for each in parts):
        return None
    return u95([part for each in parts if each is not None for part in each])


def called(channel: Channel) -> str:
    """What a person calls a channel."""
    return channel.name or channel.place
