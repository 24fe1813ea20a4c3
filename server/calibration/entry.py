"""One calibration of one channel, and all of a board. Records only; what holds is the newest that was not undone."""

from dataclasses import dataclass
from datetime import UTC, datetime
from enum import StrEnum
from math import inf

from firmware_protocol import ChannelDescription

AGE_LIMIT_DAYS = 365.0  # common practice for bench instruments, no published source; a key of the file
DAY_S = 86_400.0


class What(StrEnum):
    """What was calibrated."""

    ZERO = "zero"  # what the channel reads at nothing, in its unit: taken away first
    GAIN = "gain"  # what it must be multiplied by then
    ANGLE = "angle"  # what its delay is beside the one that the board states, in seconds


@dataclass(frozen=True, slots=True)
class Stated:
    """How the board described a channel: a calibration holds for no other channel and no other scale."""

    name: str
    place: str
    unit: str
    scale: float
    offset: float
    delay_ns: int

    @property
    def words(self) -> str:
        """What a person calls it."""
        if self.place.casefold() in self.name.casefold():  # also where there is none
            return self.name
        return f"{self.name} ({self.place})" if self.name else self.place


def stated(said: ChannelDescription) -> Stated:
    """What of a description a calibration is bound to."""
    return Stated(said.name, said.place, said.unit, said.scale, said.offset, said.delay_ns)


@dataclass(frozen=True, slots=True)
class Entry:
    """`value` is `standard` (its standard uncertainty, `dof` degrees of freedom) uncertain, both in the unit of What.

    `reference`: against what, in the person's words. An angle is right at `frequency_hz`, and was found against the
    voltage of the channel called `against`. `undone`: when a person took it back, if so.
    """

    what: What
    channel: Stated
    made: datetime  # UTC, whole seconds
    reference: str
    value: float
    standard: float
    dof: float = inf
    frequency_hz: float | None = None
    against: str = ""
    undone: datetime | None = None

    @property
    def day(self) -> str:
        """The date as it is written in words."""
        return self.made.strftime("%Y-%m-%d")


@dataclass(frozen=True, slots=True)
class BoardCalibration:
    """All entries of one board, the oldest first."""

    serial: str
    entries: tuple[Entry, ...] = ()
    age_limit_days: float = AGE_LIMIT_DAYS

    def holds(self, what: What, channel: Stated) -> Entry | None:
        """The newest that was not undone, of a channel of this name and place, however it was described then."""
        its = (each for each in reversed(self.entries) if each.what is what and each.undone is None)
        return next((each for each in its if _same(each.channel, channel)), None)

    @property
    def holding(self) -> "BoardCalibration":
        """The same without what no longer holds."""
        kept = tuple(each for each in self.entries if each is self.holds(each.what, each.channel))
        return BoardCalibration(self.serial, kept, self.age_limit_days)


def _same(one: Stated, other: Stated) -> bool:
    return (one.name, one.place) == (other.name, other.place)


def second(utc_s: float) -> datetime:
    """A moment as it is kept: whole seconds in UTC."""
    return datetime.fromtimestamp(utc_s, UTC).replace(microsecond=0)
