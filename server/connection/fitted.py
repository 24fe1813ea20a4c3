"""Channels by themselves: missing, dead, a probe without voltage, a sensor that passes no direct current. Pure."""

from collections.abc import Iterable
from math import sqrt

from server.connection.finding import Correctness, Finding
from server.connection.moment import RUN_IT, Moment
from server.connection.words import capital, figure, name_of, of_row, row_name, sensor_of
from server.motors import MotorType
from server.motors.connections import CONNECTIONS, Point, Sensor
from server.quantities.analysis import Analysis
from server.quantities.layout import Row
from server.samples import Channel, Input

_QUIET = 0.25  # of the stated noise: a living channel is never so still (ours)
_EXACT = 1e-7  # of the range: rounding of the mean square, where no noise is stated


def fitted(channels: Iterable[Channel], inputs: Iterable[Input], motor: MotorType) -> list[Finding]:
    """Whether each point that this type needs has its channel; and direct current has a sensor that passes it."""
    there = [(each.role.name.lower(), each.place.casefold()) for each in channels]
    listed = list(inputs)
    return [_fitted(point, there, listed) for point in CONNECTIONS[motor.key].points if point.needed]


def _fitted(point: Point, there: list[tuple[str, str]], inputs: list[Input]) -> Finding:
    name = name_of(point.sensor, point.place)
    if point.sensor is Sensor.HALL:
        found = any(
            each.kind.name == "HALL" and each.name.casefold().endswith(point.place.casefold()) for each in inputs
        )
    else:
        found = (point.sensor.value, point.place.casefold()) in there
    if found:
        return Finding(
            "fitted", point.sensor, point.place, Correctness.RIGHT, f"{capital(name)} has its channel.", sure=True
        )
    what = "input" if point.sensor is Sensor.HALL else "channel"
    return Finding(
        *("fitted", point.sensor, point.place, Correctness.WRONG),
        f"No {what} of the board measures {name}.",
        f'Connect it, or let the board call the place of its {what} "{point.place}".',
        sure=True,
    )


def channel_findings(a: Analysis, motor: MotorType, moment: Moment) -> list[Finding]:
    """What one window says of each channel of `a` alone."""
    rows = [(k, row) for k, row in enumerate(a.layout.rows) if not row.mix]
    alive = any(a.rms[k] >= row.limit for k, row in rows)
    findings = [_dead(a, k, row, alive) for k, row in rows]
    findings += [_direct(a, k, row) for k, row in rows if row.steady and not row.is_voltage]
    seen: set[int] = set()
    for pair in a.layout.pairs:
        if pair.voltage not in seen:
            findings.append(_voltage(a, pair.voltage, pair.current, moment))
            seen.add(pair.voltage)
    return findings


def _dead(a: Analysis, k: int, row: Row, alive: bool) -> Finding:
    """A channel that nothing moves, while others do."""
    channel, name = row.channel, row_name(row)
    moved = _moved(a, k)
    noise = channel.noise_rms or 0.0
    least = max(_QUIET * noise, _EXACT * max(abs(channel.low), abs(channel.high)))
    if moved >= least:
        return of_row(row, "alive", Correctness.RIGHT, f"{capital(name)} moves.", sure=True)
    value = f"{figure(a.mean[k])} {channel.unit}"
    if not alive:
        return of_row(
            row, "alive", Correctness.UNKNOWN, f"{capital(name)} stood at {value}, as all others did.", RUN_IT
        )
    middle = abs(a.mean[k] - (channel.low + channel.high) / 2) < 0.01 * (channel.high - channel.low)
    where = ", the middle of its range," if middle else ""
    return of_row(
        *(row, "alive", Correctness.WRONG, f"{capital(name)} stood at {value}{where} without any noise."),
        "Nothing seems to be connected to this input of the board: look at its wire and its sensor's supply.",
        sure=True,
    )


def _direct(a: Analysis, k: int, row: Row) -> Finding:
    name, what = row_name(row), "direct"
    instead = "Use a sensor that passes direct current: a Hall-effect sensor or a shunt."
    if row.channel.ac_coupled:
        return of_row(
            row, what, Correctness.WRONG, f"{capital(sensor_of(row))} passes no direct current.", instead, sure=True
        )
    volts = [p.voltage for p in a.layout.pairs if p.current == k]
    on = any(abs(a.mean[voltage]) >= a.layout.rows[voltage].limit for voltage in volts)
    ripple = _moved(a, k)
    if not on or max(abs(a.mean[k]), ripple) < row.limit:  # without its mean the run state is not known either
        text = f"Whether {sensor_of(row)} passes direct current shows in the run."
        return of_row(row, what, Correctness.UNKNOWN, text, RUN_IT)
    if abs(a.mean[k]) < row.limit:
        told = f"{capital(name)} has a mean of nothing and a ripple of {figure(ripple)} A"
        return of_row(row, what, Correctness.WRONG, f"{told}: its sensor passes no direct current.", instead)
    return of_row(row, what, Correctness.RIGHT, f"{capital(name)} has a mean of {figure(a.mean[k])} A.", sure=True)


def _moved(a: Analysis, k: int) -> float:
    """RMS of all but the mean, with the noise of the board that its RMS is told without."""
    return sqrt(max(a.rms[k] ** 2 + a.spreads[k].own_noise ** 2 - a.mean[k] ** 2, 0.0))


def _voltage(a: Analysis, voltage: int, current: int, moment: Moment) -> Finding:
    row, amps = a.layout.rows[voltage], a.layout.rows[current]
    name = row_name(row)
    if a.rms[voltage] >= row.limit and moment.driven:
        return of_row(row, "across", Correctness.RIGHT, f"{capital(name)} was {figure(a.rms[voltage])} V.", sure=True)
    if not moment.driven or a.rms[current] < amps.limit:
        return of_row(row, "across", Correctness.UNKNOWN, f"Whether {name} is there shows in the run.", RUN_IT)
    text = f"{capital(name)} was below {row.limit:.2g} V while {figure(a.rms[current])} A flowed."
    return of_row(
        *(row, "across", Correctness.WRONG, text),
        "Both ends of its probe may be on the same conductor, or one is off.",
    )
