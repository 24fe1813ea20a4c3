"""Where a sensor of the board goes on a motor. Records only, and the words that all types share."""

from dataclasses import dataclass
from enum import StrEnum


class Sensor(StrEnum):
    """What goes there: a probe with two ends, a sensor round or in a conductor, a wire with pulses, a Hall wire."""

    VOLTAGE = "voltage"
    CURRENT = "current"
    PULSE = "pulse"
    HALL = "hall"


@dataclass(frozen=True, slots=True)
class Point:
    """One point. `place` is what the board calls the place of the channel; of an input, a word of ours or its letter.

    `needed`: without it the main readings of this type are absent. `where`: on which conductors. `arrow`: which end or
    direction is positive. `makes`: what becomes possible with it.
    """

    sensor: Sensor
    place: str
    needed: bool
    where: str
    arrow: str
    makes: str


@dataclass(frozen=True, slots=True)
class Connections:
    """All points of a type in reading order, and the cautions that come before them."""

    points: tuple[Point, ...]
    cautions: tuple[str, ...]


# Motor convention: current into the machine is positive, so power above 0 is taken from the supply (common practice).
TOWARDS = "arrow towards the motor"

_ONLY_WATCHES = (
    "Slipring only watches. It switches nothing off: fuse, emergency stop and guard come first, without this PC."
)
_MOVING = "Keep hands, hair, sleeves and wires away from the shaft; fix every wire so that nothing can wind it up."
_ISOLATED = (
    "Only isolated inputs of the board may touch the motor's circuit, each within its stated voltage and with leads "
    "rated for it."
)
MAINS = (
    "Mains kills. Local codes and licensed practice come before anything that stands here: where they ask for a "
    "licence, a licensed person makes these connections.",
    "Switch off, unplug or lock off, and test for voltage before a probe or sensor is put on or moved.",
    _ISOLATED,
    _MOVING,
    _ONLY_WATCHES,
)
DIRECT = (
    "Switch off, disconnect the supply and test for voltage before a probe or sensor is put on or moved. A battery "
    "drives hundreds of amperes into a short: fuse close to it, no rings, no loose tools.",
    "Above extra-low voltage, or fed from mains, local codes and licensed practice come first.",
    _ISOLATED,
    _MOVING,
    _ONLY_WATCHES,
)
CAPACITOR = (
    "A capacitor can hold more than the peak of the mains for minutes after switching off: discharge it through a "
    "resistor, measure, then touch."
)


def voltage(place: str, where: str, arrow: str, makes: str, *, needed: bool = False) -> Point:
    """A probe with two ends."""
    return Point(Sensor.VOLTAGE, place, needed, where, arrow, makes)


def current(place: str, where: str, makes: str, *, needed: bool = False, arrow: str = TOWARDS) -> Point:
    """A sensor round or in a conductor."""
    return Point(Sensor.CURRENT, place, needed, where, arrow, makes)


def pulse(makes: str, where: str = "a mark on the shaft and a pickup that sees it pass") -> Point:
    """One wire with pulses of the shaft."""
    return Point(Sensor.PULSE, "shaft", False, where, "no direction: it counts marks that pass", makes)


SLIP = "speed, slip and a stall that is certain, without a plate to guess from"
