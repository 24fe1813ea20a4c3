"""Which channels are drawn: the motor's main pair, and the phases beside it. Pure; knows places, not motors."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from firmware_protocol import Role, SampleKind
from server.live.cut import Cut
from server.live.ring import Ring
from server.motors import MotorType
from server.samples import Channel

# Best first. A board may name a place as it likes: what is not listed comes after, in the order of the description.
VOLTAGES = ("supply", "terminals", "motor", "armature", "dc link", "L1", "L1-N", "L1-L2", "U")
CURRENTS = ("line", "terminals", "motor", "armature", "dc link", "L1", "U")
SUPPLY_PHASES = ("L1", "L2", "L3", "L1-L2", "L2-L3", "L3-L1")
PHASES = ("L1", "L2", "L3", "U", "V", "W", "coil 1", "coil 2")
LINES_MAX = 8


@dataclass(frozen=True, slots=True)
class Line:
    """One channel in its ring."""

    ring: Ring | Cut
    row: int

    @property
    def channel(self) -> Channel:
        return self.ring.channels[self.row]


@dataclass(frozen=True, slots=True)
class Third:
    """The current of a phase without a channel: minus the sum of the two others, as there is no neutral."""

    place: str
    one: Line
    other: Line


@dataclass(frozen=True, slots=True)
class Lines:
    """`voltage` and `current` are the main pair, None where there is none; `all` holds them and the phases."""

    voltage: Line | None
    current: Line | None
    all: tuple[Line, ...]
    third: Third | None = None

    @property
    def main(self) -> tuple[Line, ...]:
        """The main pair, as far as it is there."""
        return tuple(line for line in (self.voltage, self.current) if line is not None)


def drawn_lines(rings: Iterable[Ring | Cut], motor: MotorType | None) -> Lines:
    """Choose among instantaneous voltages and currents; a known motor type says where its main ones are."""
    lines = [Line(ring, row) for ring in rings for row in range(len(ring.channels))]
    lines = [line for line in lines if line.channel.kind is SampleKind.INSTANTANEOUS]
    voltages: Sequence[str] = VOLTAGES
    currents: Sequence[str] = CURRENTS
    if motor is not None:
        voltages, currents = (motor.voltage_place, *voltages), (motor.current_place, *currents)
    voltage = _best([line for line in lines if line.channel.role is Role.VOLTAGE], voltages)
    current = _best([line for line in lines if line.channel.role is Role.CURRENT], currents)
    main = [line for line in (voltage, current) if line is not None]
    phases = [line for line in lines if line not in main and _is_phase(line.channel)]
    return Lines(voltage, current, tuple([*main, *phases][:LINES_MAX]), _third(lines, motor))


def _third(lines: Sequence[Line], motor: MotorType | None) -> Third | None:
    places = motor.phases if motor is not None else ()
    found = [line for line in lines if line.channel.role is Role.CURRENT and line.channel.place in places]
    missing = [place for place in places if all(line.channel.place != place for line in found)]
    if len(found) != 2 or len(missing) != 1 or found[0].ring is not found[1].ring:
        return None
    return Third(missing[0], *found)


def _best(lines: Sequence[Line], places: Sequence[str]) -> Line | None:
    def rank(line: Line) -> int:
        return places.index(line.channel.place) if line.channel.place in places else len(places)

    return min(lines, key=rank, default=None)


def _is_phase(channel: Channel) -> bool:
    """Currents of all phases; of the voltages only those of a supply: a chopped phase lead would draw a black field."""
    return channel.place in {Role.VOLTAGE: SUPPLY_PHASES, Role.CURRENT: PHASES}.get(channel.role, ())
