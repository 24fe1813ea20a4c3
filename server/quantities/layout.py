"""Which rows a window has, what they are called, and which belong together. Depends on the board and the motor's
type alone, never on the samples: so the list of readings of a group is always the same."""

from dataclasses import dataclass
from functools import lru_cache

from firmware_protocol import Role, SampleKind
from server.motors import MotorType, Supply
from server.samples import Channel

_RESTING_SHARE = 0.005  # of the range, where a channel states no noise: common practice
_NOISES = 3.0
_CODES_SHARE = 1e-4  # of the range: three codes of 16 bits, where a channel states no noise to speak of


@dataclass(frozen=True, slots=True)
class Row:
    """One voltage or current. `place` stands behind the keys of its readings, empty for the main one.

    `minus_of`: the rows whose negative sum it is, where it has no channel. `limit`: RMS below which ratios of it mean
    nothing. `wave`: instantaneous samples, so that harmonics make sense. `steady`: direct by the motor's type.
    """

    channel: Channel
    place: str
    limit: float
    wave: bool
    steady: bool
    minus_of: tuple[int, ...] = ()

    @property
    def is_voltage(self) -> bool:
        return self.channel.role is Role.VOLTAGE


@dataclass(frozen=True, slots=True)
class Pair:
    """A voltage row and a current row that make power, and the place behind the readings' keys."""

    voltage: int
    current: int
    place: str


@dataclass(frozen=True, slots=True)
class Layout:
    """Rows in the order voltages, currents, currents without a channel; `take` are the channels of the measured ones.

    `clock` are the rows that may give the frequency, best first; `clock_is_voltage` says what it is called.
    `three` are the currents L1 L2 L3 (U V W), where there are three. `others` are channels that are neither.
    """

    rows: tuple[Row, ...]
    take: tuple[int, ...]
    pairs: tuple[Pair, ...]
    clock: tuple[int, ...]
    clock_is_voltage: bool
    three: tuple[int, int, int] | None
    others: tuple[int, ...]


@lru_cache(maxsize=32)
def layout_of(channels: tuple[Channel, ...], motor: MotorType | None) -> Layout:
    """The layout of a group of evenly sampled channels of this motor. Without a type, the first of a role is main."""
    volts = [k for k, each in enumerate(channels) if each.role is Role.VOLTAGE]
    amps = [k for k, each in enumerate(channels) if each.role is Role.CURRENT]
    main_v = _main(channels, volts, motor.voltage_place if motor else "")
    main_i = _main(channels, amps, motor.current_place if motor else "")
    volts.sort(key=lambda k: k != main_v)
    amps.sort(key=lambda k: k != main_i)
    direct = motor is not None and motor.supply is Supply.DIRECT
    phases = {place.casefold() for place in motor.phases} if motor else set()
    rows = [_row(channels[k], k in (main_v, main_i), direct and _at(channels[k]) not in phases) for k in volts + amps]
    rows += _third(rows, motor)
    three = _three(rows, motor)
    pairs = tuple(_pairs(rows, motor))
    clock = _clock(rows, motor, direct)
    others = tuple(k for k in range(len(channels)) if k not in volts and k not in amps)
    is_voltage = bool(clock) and rows[clock[0]].is_voltage
    return Layout(tuple(rows), tuple(volts + amps), pairs, clock, is_voltage, three, others)


def _at(channel: Channel) -> str:
    return channel.place.casefold()


def _main(channels: tuple[Channel, ...], among: list[int], place: str) -> int | None:
    at_place = [k for k in among if _at(channels[k]) == place.casefold()]
    return next(iter(at_place or among), None)


def _row(channel: Channel, main: bool, steady: bool) -> Row:
    span = max(abs(channel.low), abs(channel.high))
    if channel.noise_rms is None:
        limit = _RESTING_SHARE * span
    else:
        limit = max(_NOISES * channel.noise_rms, _CODES_SHARE * span)
    wave = channel.kind is SampleKind.INSTANTANEOUS
    return Row(channel, "" if main else channel.place or channel.name, limit, wave, steady)


def _third(rows: list[Row], motor: MotorType | None) -> list[Row]:
    """The third phase current where two have channels and there is no neutral: minus their sum."""
    if motor is None or not motor.phases:
        return []
    places = [place.casefold() for place in motor.phases]
    found = {_at(row.channel): k for k, row in enumerate(rows) if not row.is_voltage and _at(row.channel) in places}
    absent = [place for place in motor.phases if place.casefold() not in found]
    if len(found) != 2 or len(absent) != 1:
        return []
    one, other = found.values()
    return [Row(rows[one].channel, absent[0], rows[one].limit + rows[other].limit, rows[one].wave, False, (one, other))]


def _three(rows: list[Row], motor: MotorType | None) -> tuple[int, int, int] | None:
    names = [place.casefold() for place in (motor.phases if motor else ("L1", "L2", "L3"))]
    found = {}
    for k, row in enumerate(rows):
        if not row.is_voltage:
            found[row.place.casefold() if row.minus_of else _at(row.channel)] = k
    if len(names) != 3 or not all(name in found for name in names):
        return None
    return found[names[0]], found[names[1]], found[names[2]]


def _pairs(rows: list[Row], motor: MotorType | None) -> list[Pair]:
    """Currents with the voltage at their place; single-phase motors: every current with the supply."""
    volts = {_at(row.channel): k for k, row in reversed(list(enumerate(rows))) if row.is_voltage}
    main_v = next((k for k, row in enumerate(rows) if row.is_voltage and not row.place), None)
    shared = motor is not None and not motor.phases
    pairs = []
    for k, row in enumerate(rows):
        if row.is_voltage or not row.wave or row.minus_of:
            continue
        voltage = volts.get(_at(row.channel)) if row.channel.place else None
        if voltage is None and (shared or not row.place):
            voltage = main_v
        if voltage is not None and rows[voltage].wave:
            pairs.append(Pair(voltage, k, row.place))
    return pairs


def _clock(rows: list[Row], motor: MotorType | None, direct: bool) -> tuple[int, ...]:
    if not direct:
        volts = [k for k, row in enumerate(rows) if row.is_voltage and row.wave]
        if volts:
            lines = [k for k in volts if motor and rows[k].channel.place in motor.phases]
            return tuple(lines or volts[:1])
    amps = [k for k, row in enumerate(rows) if not row.is_voltage and row.wave and not row.steady]
    return tuple(amps if motor and motor.phases else amps[:1])
