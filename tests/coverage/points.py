"""Two points set on a kept picture: values and times at them, and what lies between them.

A point stands at a moment of the board's time. What is true of a value or a stretch is the wave there; of a time to a
zero or a peak it is where the wave itself has the nearest one, found here on a fine grid.
"""

from functools import partial
from math import exp, sqrt

import numpy as np
from numpy.typing import NDArray

from firmware_protocol import Role
from server.config import Plate
from server.live.stops import peaks, zeros
from server.live.stretch import stretch_readings
from server.live.two_points import Point, Snap, time_readings, value_readings
from server.live.wave import Wave as Line
from server.motors import motor_type
from server.quantities import window_readings
from server.readings import Reading
from tests.coverage.channels import RATE_HZ, SAMPLES, Board, Signal, channel_of, clock_of, fineness
from tests.coverage.told import Told, Truth, beside
from tests.coverage.waves import Wave, drawn_wave

_FIRST_S, _FINE = 100.0, 20_001

_MARGIN = 20  # samples at both ends that no point is set on


def points(draw: np.random.Generator, _: int) -> list[Told]:
    """On the voltage or the current, at a sample or anywhere, a zero or a peak, 2 to 180 ms apart."""
    hertz, size = draw.uniform(45.0, 66.0), (230.0, exp(draw.uniform(-1.5, 2.0)))
    waves = _smooth(drawn_wave(draw, size[0], 0.0)), _smooth(drawn_wave(draw, size[1], draw.uniform(-1.5, 1.5)))
    fine = fineness(draw)
    clock, rows = clock_of(draw, fine), ((Role.VOLTAGE, "supply", size[0]), (Role.CURRENT, "line", size[1]))
    board = Board(draw, [channel_of(draw, *each, fine) for each in rows], clock)
    signals: list[Signal] = [partial(wave.at, hertz=hertz) for wave in waves]
    window = board.window(draw, signals)
    none = np.zeros(SAMPLES, dtype=np.bool_)
    lines = [
        Line(channel, row.astype(np.float32).astype(np.float64), none, _FIRST_S, RATE_HZ)
        for channel, row in zip(board.channels, window.values, strict=True)
    ]
    readings = window_readings(window, motor_type("permanent_split_capacitor"), Plate())
    frequency = next(each for each in readings if each.key == "frequency_hz")
    which = draw.integers(0, 2, 2).tolist()
    one, other = (_point(draw, lines[k]) for k in which)
    slower = 1.0 + clock.slow
    ends = [slower * (each.board_s - _FIRST_S) for each in (one, other)]
    late = [board.late_s(k) for k in which]
    at = [
        _moment(each, signals[k], end, delay)
        for each, k, end, delay in zip((one, other), which, ends, late, strict=True)
    ]
    told = _times(one, other, at, hertz, frequency) if one.board_s != other.board_s else []
    values = [float(signals[k](np.array([end]))[0]) for k, end in zip(which, ends, strict=True)]
    told += _values(one, other, values)
    if abs(ends[1] - ends[0]) < 0.002:
        return told
    stretch = stretch_readings((lines[0], lines[1]), (), *sorted((one.board_s, other.board_s)))
    return told + beside(stretch, _between(signals, *sorted(ends)))


def _smooth(wave: Wave) -> Wave:
    """Small enough harmonics for one zero and one peak in half a cycle."""
    phasors = wave.phasors.copy()
    phasors[1:] *= 0.3
    return Wave(wave.mean, phasors)


def _point(draw: np.random.Generator, line: Line) -> Point:
    snap = Snap(draw.choice([each.value for each in Snap]))
    place = float(draw.uniform(_MARGIN, SAMPLES - _MARGIN))
    if snap is Snap.SAMPLE:
        place = round(place)
    elif snap is not Snap.FREE:
        stops = zeros(line.values) if snap is Snap.ZERO else peaks(line.values).astype(np.float64)
        inside = stops[(stops > _MARGIN) & (stops < SAMPLES - _MARGIN)]
        place = float(draw.choice(inside))
    return Point(_FIRST_S + place / RATE_HZ, line, snap)


def _moment(point: Point, signal: Signal, at_s: float, late_s: float) -> float:
    """In true seconds where the wave has what the point stands at: what the line shows there, or its zero or peak."""
    if point.snap not in (Snap.ZERO, Snap.PEAK):
        return at_s - late_s
    wide = 2e-3
    for _ in range(3):  # to 2 ms / 100^3
        grid = at_s + np.linspace(-wide, wide, 401)
        values = signal(grid)
        if point.snap is Snap.ZERO:
            at_s = float(grid[int(np.abs(values).argmin())])
        else:
            at_s = float(grid[int((values * np.sign(values[200])).argmax())])
        wide /= 100.0
    return at_s


def _times(one: Point, other: Point, at: list[float], hertz: float, frequency: Reading) -> list[Told]:
    seconds = at[1] - at[0]
    kind = "peak" if Snap.PEAK in (one.snap, other.snap) else "zero" if Snap.ZERO in (one.snap, other.snap) else "set"
    truths: dict[str, Truth] = {
        "time_s": seconds,
        "one_cycle_hz": 1.0 / abs(seconds) if seconds else 0.0,
        "angle_deg": 360.0 * hertz * seconds,
    }
    return [each._replace(name=f"{each.name}, {kind}") for each in beside(time_readings(one, other, frequency), truths)]


def _values(one: Point, other: Point, values: list[float]) -> list[Told]:
    told = []
    for each in value_readings(one, other):
        snaps = {"value_one": one.snap, "value_other": other.snap}
        if each.key in snaps:
            told.append(Told(f"value, {snaps[each.key]}", each, values[each.key == "value_other"]))
        else:
            at_peak = Snap.PEAK in (one.snap, other.snap)
            told.append(Told(f"difference{', peak' if at_peak else ''}", each, values[1] - values[0]))
    return told


def _between(signals: list[Signal], first_s: float, last_s: float) -> dict[str, Truth]:
    grid = np.linspace(first_s, last_s, _FINE)
    volts, amps = (each(grid) for each in signals)

    def mean(values: NDArray[np.float64]) -> float:
        return float(np.trapezoid(values, dx=1.0 / (_FINE - 1)))

    power = mean(volts * amps)
    return {
        "voltage_rms_v": sqrt(mean(volts**2)),
        "current_rms_a": sqrt(mean(amps**2)),
        "voltage_mean_v": mean(volts),
        "current_mean_a": mean(amps),
        "active_power_w": power,
        "energy_j": power * (last_s - first_s),
    }
