"""Which rows a window has, what they are called, and which belong together. Depends on the board and the motor's
type alone, never on the samples: so the list of readings of a group is always the same."""

from dataclasses import dataclass
from functools import lru_cache
from itertools import permutations

import numpy as np

from firmware_protocol import Role, SampleKind
from server.motors import MotorType, Supply
from server.samples import Channel

STAR = "star "  # before a line's name: its voltage against an artificial star, made of voltages between lines
WAVE_RATE_MIN_HZ = 80.0  # eight samples of a cycle of 10 Hz: below, no form of a wave is looked for


@dataclass(frozen=True, slots=True)
class Row:
    """One voltage or current. `place` stands behind the keys of its readings, empty for the main one.

    `mix`: where it has no channel of its own, the rows that it is made of, each with its weight. `limit`: RMS below
    which ratios of it mean nothing. `wave`: instantaneous samples, fast enough for harmonics. `steady`: direct by the
    motor's type; `either`: the motor's type is not known.
    """

    channel: Channel
    place: str
    limit: float
    wave: bool
    steady: bool
    either: bool
    mix: tuple[tuple[int, float], ...] = ()

    @property
    def is_voltage(self) -> bool:
        return self.channel.role is Role.VOLTAGE

    @property
    def name(self) -> str:
        """The conductor that it belongs to."""
        return self.place.removeprefix(STAR) if self.mix else self.channel.place

    @property
    def at(self) -> str:
        """Its name in small letters."""
        return self.name.casefold()


@dataclass(frozen=True, slots=True)
class Pair:
    """A voltage row and a current row that make power, and the place behind the readings' keys."""

    voltage: int
    current: int
    place: str


@dataclass(frozen=True, slots=True)
class Layout:
    """Rows in the order voltages, currents, currents without a channel; `take` are the channels of the measured ones.

    `clock`: rows that may give the frequency, best first; `clock_is_voltage` says what it is called. `three`: the
    currents L1 L2 L3 (U V W) where there are three, `three_voltages` those of a supply; `three_pairs`: the pairs whose
    powers add up to the motor's. `others`: channels that are neither voltage nor current. `is_fed`: what alternates is
    a supply, of mains or an inverter, and not the steps of a drive. `made`: rows that are made of others.
    """

    rows: tuple[Row, ...]
    take: tuple[int, ...]
    pairs: tuple[Pair, ...]
    clock: tuple[int, ...]
    clock_is_voltage: bool
    three: tuple[int, int, int] | None
    three_voltages: tuple[int, int, int] | None
    three_pairs: tuple[int, ...]
    others: tuple[int, ...]
    is_fed: bool
    made: tuple[int, ...]

    def main(self, *, voltage: bool) -> int | None:
        """The row of the main voltage or current; None where there is none."""
        return next((k for k, row in enumerate(self.rows) if row.is_voltage is voltage and not row.place), None)


MAIN_ROLES = frozenset((Role.VOLTAGE, Role.CURRENT))


@lru_cache(maxsize=32)
def layout_of(channels: tuple[Channel, ...], motor: MotorType | None, main: frozenset[Role] = MAIN_ROLES) -> Layout:
    """The layout of a group of evenly sampled channels of this motor.

    `main`: the roles whose main row is in this group, and not in another one of the board: the one at the motor's
    place, else the first.
    """
    volts = _main_first(channels, Role.VOLTAGE, motor.voltage_place if motor else "")
    amps = _main_first(channels, Role.CURRENT, motor.current_place if motor else "")
    firsts = [k for k in volts[:1] + amps[:1] if channels[k].role in main]
    rows = [_row(channels[k], k in firsts, motor) for k in volts + amps]
    rows += _star(rows, motor) + _third(rows, motor)
    pairs = tuple(_pairs(rows, motor))
    clock = _clock(rows, motor)
    return Layout(
        rows=tuple(rows),
        take=tuple(volts + amps),
        pairs=pairs,
        clock=clock,
        clock_is_voltage=bool(clock) and rows[clock[0]].is_voltage,
        three=_three(rows, motor, Role.CURRENT),
        three_voltages=_three(rows, motor, Role.VOLTAGE),
        three_pairs=tuple(range(3)) if _is_three_phase(motor) and len(pairs) == 3 else (),
        others=tuple(k for k in range(len(channels)) if k not in volts and k not in amps),
        is_fed=motor is not None and motor.supply is Supply.ALTERNATING and not motor.holds,
        made=tuple(k for k, row in enumerate(rows) if row.mix),
    )


def _at(channel: Channel) -> str:
    return channel.place.casefold()


def _places(motor: MotorType | None) -> list[str]:
    return [place.casefold() for place in motor.phases] if motor else []


def _is_three_phase(motor: MotorType | None) -> bool:
    return motor is not None and motor.supply is Supply.ALTERNATING and len(motor.phases) == 3


def _main_first(channels: tuple[Channel, ...], role: Role, place: str) -> list[int]:
    """Channels of this role, the one at `place` first; where none is there, as described."""
    its = [k for k, each in enumerate(channels) if each.role is role]
    return sorted(its, key=lambda k: _at(channels[k]) != place.casefold())


def _row(channel: Channel, main: bool, motor: MotorType | None) -> Row:
    wave = channel.kind is SampleKind.INSTANTANEOUS and (channel.rate_hz or 0.0) >= WAVE_RATE_MIN_HZ
    steady = motor is not None and motor.supply is Supply.DIRECT and _at(channel) not in _places(motor)
    return Row(channel, "" if main else channel.place or channel.name, channel.least, wave, steady, motor is None)


def _third(rows: list[Row], motor: MotorType | None) -> list[Row]:
    """The third phase current where two have channels, minus their sum: these motors have no neutral."""
    places = _places(motor)
    found = {row.at: k for k, row in enumerate(rows) if not row.is_voltage and row.at in places}
    if motor is None or len(places) != 3 or len(found) != 2:
        return []
    name = next(place for place in motor.phases if place.casefold() not in found)
    one, other = (rows[k] for k in found.values())
    limit, wave = one.limit + other.limit, one.wave and other.wave
    return [Row(one.channel, name, limit, wave, False, False, tuple((k, -1.0) for k in found.values()))]


def _star(rows: list[Row], motor: MotorType | None) -> list[Row]:
    """Voltages of the lines against an artificial star, where two or three voltages between lines are measured instead.

    A voltage at "L1-L2" is that of L1 against L2. The three against the star add up to nothing by definition.
    """
    if motor is None or not _is_three_phase(motor) or any(row.is_voltage and row.at in _places(motor) for row in rows):
        return []
    pairs = permutations(range(3), 2)
    between = {f"{motor.phases[m]}-{motor.phases[n]}".casefold(): (m, n) for m, n in pairs}
    found = [(k, between[row.at]) for k, row in enumerate(rows) if row.is_voltage and row.at in between]
    measured = np.zeros((len(found), 3))
    for line, (_, (plus, minus)) in enumerate(found):
        measured[line, plus] += 1.0
        measured[line, minus] -= 1.0
    if np.linalg.matrix_rank(measured) < 2:
        return []
    weights = np.linalg.pinv(measured).round(12).tolist()
    channel, limit = rows[found[0][0]].channel, max(rows[k].limit for k, _ in found)
    wave = all(rows[k].wave for k, _ in found)
    made = []
    for name, line in zip(motor.phases, weights, strict=True):
        mix = tuple((k, weight) for (k, _), weight in zip(found, line, strict=True))
        made.append(Row(channel, STAR + name, limit, wave, False, False, mix))
    return made


def _three(rows: list[Row], motor: MotorType | None, role: Role) -> tuple[int, int, int] | None:
    if role is Role.VOLTAGE and not _is_three_phase(motor):
        return None  # those of a bridge's phases stand against its minus
    names = _places(motor) if motor else ["l1", "l2", "l3"]
    found = {row.at: k for k, row in enumerate(rows) if row.channel.role is role and row.wave}
    if len(names) != 3 or not all(name in found for name in names):
        return None
    return found[names[0]], found[names[1]], found[names[2]]


def _pairs(rows: list[Row], motor: MotorType | None) -> list[Pair]:
    """Currents with the voltage at their place; of a single-phase motor every current with the supply.

    Voltages of a motor on direct current make power with the current of the link alone: those of its phases stand
    against the link's minus, and only their sum is a power.
    """
    at_place = {row.at: k for k, row in reversed(list(enumerate(rows))) if row.is_voltage}
    single = motor is not None and not motor.phases
    pairs = []
    for k, row in enumerate(rows):
        if row.is_voltage or (row.mix and not _is_three_phase(motor)):
            continue
        voltage = at_place.get(row.at) if row.at else None
        is_main = rows[0].is_voltage and not rows[0].place
        if voltage is None and is_main and (single or (motor is None and not row.place)):
            voltage = 0
        if voltage is None or (motor and motor.supply is Supply.DIRECT and not (row.steady and rows[voltage].steady)):
            continue
        if all(each.channel.kind is SampleKind.INSTANTANEOUS for each in (row, rows[voltage])):
            named = _is_three_phase(motor) and not row.mix
            pairs.append(Pair(voltage, k, row.channel.place if named else row.place))
    return pairs


def _clock(rows: list[Row], motor: MotorType | None) -> tuple[int, ...]:
    """The main voltage (three phases: any of them, should one be lost), else currents."""
    waves = [k for k, row in enumerate(rows) if row.wave and not row.steady]
    phases = [k for k in waves if rows[k].at in _places(motor)]
    if motor is None or motor.supply is Supply.ALTERNATING:
        volts = [k for k in waves if rows[k].is_voltage]
        if volts:
            return tuple(k for k in phases if rows[k].is_voltage) or (volts[0],)
    amps = [k for k in waves if not rows[k].is_voltage]
    return tuple(k for k in amps if k in phases) or tuple(amps[:1])
