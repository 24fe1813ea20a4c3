"""Motors with tolerances, turned by hand or left to run down, and what a board would send: edges and samples.

Written anew from angles: a border of two poles passes a sensor where the rotor stands at a known angle, and the
back-EMF is speed times a shape. Shares nothing with the service but its records, nor with the software board.
"""

from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from firmware_protocol import InputKind, Role
from server.hall.inputs import Halls
from server.samples import Channel, EdgeTrain, Input, Samples
from server.wiring.following import Following
from server.wiring.grounds import Grounds, Known
from server.wiring.leads import OffBy, Probes
from server.wiring.stretch import Stretch
from tests.server.wiring.turned import RISE_DEG, trapezoid

TICK_HZ, WINDOW_TICKS = 1_000_000.0, 200_000
Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Motor:
    """Angles in electrical degrees. `place`, `width` of the three sensors, `magnets` by border of two poles; `sine`:
    1 a sine, 0 a trapezoid; `volts`: between two leads at 1000 electrical degrees a second."""

    pole_pairs: int = 7
    timing: float = 0.0
    place: tuple[float, float, float] = (0.0, 0.0, 0.0)
    width: tuple[float, float, float] = (0.0, 0.0, 0.0)
    magnets: tuple[float, ...] = ()
    hysteresis: float = 0.0
    sine: float = 0.0
    volts: float = 0.3
    halls: tuple[int, int, int] = (0, 1, 2)
    phases: tuple[int, int, int] = (0, 1, 2)
    inverted: int = 0
    spacing_deg: int = 120


@dataclass(frozen=True)
class Edges:
    """Changes of the three inputs, `state` after each; `before` the first."""

    ticks: NDArray[np.int64]
    states: NDArray[np.int64]
    before: int


def drawn(rng: np.random.Generator, pole_pairs: int | None = None, **given: object) -> Motor:
    """A healthy motor with tolerances."""
    pairs = int(rng.integers(2, 16))
    pairs = pole_pairs or pairs
    magnets = rng.normal(0.0, 0.6, 2 * pairs)
    place, width = (rng.normal(0.0, size, 3).tolist() for size in (0.8, 1.0))
    motor = Motor(
        pairs,
        float(rng.normal(0.0, 1.0)),
        (place[0], place[1], place[2]),
        (width[0], width[1], width[2]),
        tuple((magnets - magnets.mean()).tolist()),
        float(rng.uniform(0.3, 2.0)),
        float(rng.uniform(0.0, 1.0)),
        float(rng.uniform(0.1, 0.5)),
    )
    return replace(motor, **given)  # type: ignore[arg-type]  # fields of Motor, as given


def strokes(rng: np.random.Generator, pole_pairs: int, electrical_turns: float, way: int = 1) -> tuple[Floats, Floats]:
    """Times in seconds and electrical degrees of a hand that turns: strokes of 0.5 to 0.9 s, peaks of 60 to 150 r/min,
    the speed a square of a sine, with pauses; it ends with the stroke that reaches the turns: stopped there in 50 ms.
    """
    times, angles = [np.zeros(1)], [np.zeros(1)]
    while angles[-1][-1] < 360.0 * electrical_turns:
        lasts, peak = rng.uniform(0.5, 0.9), rng.uniform(60.0, 150.0)
        x = np.arange(1, round(lasts * 5000) + 1) / round(lasts * 5000)
        swept = 6.0 * peak * pole_pairs * lasts * (x / 2.0 - np.sin(2 * np.pi * x) / (4 * np.pi))
        times.append(times[-1][-1] + lasts * x)
        angles.append(angles[-1][-1] + swept)
        rest = np.arange(1, round(rng.uniform(0.0, 0.25) * 5000) + 1) / 5000.0
        times.append(times[-1][-1] + rest if rest.size else times[-1][-1:])
        angles.append(np.full(max(rest.size, 1), angles[-1][-1]))
    time, angle = np.concatenate(times), np.concatenate(angles)
    stop = int(np.searchsorted(angle, 360.0 * electrical_turns))
    speed = (angle[stop - 1] - angle[stop - 3]) / (time[stop - 1] - time[stop - 3])
    x = np.arange(1, 251) / 5000.0
    ended = angle[stop - 1] + speed * (x - x * x / 0.1)
    return np.concatenate((time[:stop], time[stop - 1] + x)), way * np.concatenate((angle[:stop], ended))


def running_down(seconds: float, pole_pairs: int, rpm: float, constant_s: float = 2.0) -> tuple[Floats, Floats]:
    """Times and electrical degrees of a shaft that is left to itself: an exponential less a constant."""
    time = np.arange(0.0, seconds, 2e-4)
    speed = rpm * (1.15 * np.exp(-time / constant_s) - 0.15)
    return time, np.cumsum(6.0 * speed * pole_pairs * 2e-4)


def edges_of(motor: Motor, time: Floats, angle: Floats) -> Edges:
    """Where the borders of poles pass the sensors. The angle may turn back."""
    toggles = [_toggles(motor, sensor, time, angle) for sensor in range(3)]
    start = sum(toggles[sensor][1] << place for place, sensor in enumerate(motor.halls))
    when = np.concatenate([toggles[sensor][0] for sensor in motor.halls])
    what = np.concatenate([np.full(toggles[sensor][0].size, 1 << place) for place, sensor in enumerate(motor.halls)])
    order = np.argsort(when, kind="stable")
    ticks = np.floor(when[order] * TICK_HZ).astype(np.int64)
    states = np.bitwise_xor.accumulate(np.concatenate(([start], what[order])))[1:].astype(np.int64)
    return Edges(ticks, states ^ motor.inverted, start ^ motor.inverted)


def _toggles(motor: Motor, sensor: int, time: Floats, angle: Floats) -> tuple[Floats, int]:
    """Times at which one sensor changes, and its level at first."""
    rise = RISE_DEG[motor.spacing_deg][sensor]
    low, high = float(angle.min()), float(angle.max())
    border = np.arange(np.floor((low - 720.0) / 180.0), np.ceil((high + 720.0) / 180.0)).astype(int)
    magnets = np.array(motor.magnets or (0.0,))
    at = 180.0 * border + rise + motor.place[sensor] + motor.timing + magnets[border % magnets.size]
    at = at + np.where(border % 2, 0.5, -0.5) * motor.width[sensor]
    passed = int(np.count_nonzero(at <= angle[0]))
    level = (passed + int(border[0])) % 2  # below border 0, an even one, it is low
    turns = np.flatnonzero(np.diff(np.sign(np.diff(angle))) != 0) + 1
    pieces = np.concatenate(([0], turns, [angle.size - 1]))
    found, n = [], passed
    for begin, end in pairwise(pieces):
        path, when = angle[begin : end + 1], time[begin : end + 1]
        if path[-1] > path[0]:
            reached = int(np.count_nonzero(at + motor.hysteresis <= path[-1]))
            found.append(np.interp(at[n:reached] + motor.hysteresis, path, when))
            n = max(n, reached)
        elif path[-1] < path[0]:
            reached = int(np.count_nonzero(at - motor.hysteresis < path[-1]))
            found.append(np.interp(-(at[reached:n] - motor.hysteresis)[::-1], -path, when))
            n = min(n, reached)
    return (np.concatenate(found) if found else np.zeros(0)), level


_OFF_BY = OffBy(2e-6, 0.005, 0.0)


@dataclass(frozen=True)
class Errors:
    """What a board errs by: gains and offsets of three voltages, how late they are beside the edges; and `common_v`,
    what all three leads have against the board's own point. `off_by`: what it states, as standard uncertainties."""

    gains: tuple[float, float, float] = (1.0, 1.0, 1.0)
    offsets_v: tuple[float, float, float] = (0.0, 0.0, 0.0)
    late_s: float = 0.0
    common_v: float = 0.7
    off_by: OffBy = _OFF_BY


EXACT = Errors()


def drawn_errors(rng: np.random.Generator, delay_s: float = 3e-6, volts: float = 0.009, gain: float = 0.02) -> Errors:
    """Within limits, anywhere between them alike: JCGM 100, 4.3.7."""
    gains, offsets = (rng.uniform(-limit, limit, 3).tolist() for limit in (gain, volts))
    return Errors(
        (1.0 + gains[0], 1.0 + gains[1], 1.0 + gains[2]),
        (offsets[0], offsets[1], offsets[2]),
        float(rng.uniform(-delay_s, delay_s)),
        float(rng.uniform(0.0, 2.0)),
        OffBy(delay_s / 3**0.5, volts / 3**0.5, gain / 3**0.5),
    )


def volts_of(
    motor: Motor, time: Floats, angle: Floats, seconds: float, rate_hz: float, step_v: float, errors: Errors = EXACT
) -> Floats:
    """Voltages of three leads against an arbitrary common point, (3, samples), in steps."""
    at = np.arange(round(seconds * rate_hz)) / rate_hz - errors.late_s
    speed = np.gradient(np.interp(at, time, angle)) * rate_hz
    place = np.interp(at, time, angle)
    emf = []
    for phase in motor.phases:
        own = place - 120.0 * phase
        shape = motor.sine * np.sin(np.radians(own)) + (1.0 - motor.sine) * trapezoid(own)
        emf.append(0.5 * motor.volts * speed / 1000.0 * shape)
    read = (np.stack(emf) + errors.common_v) * np.array(errors.gains)[:, None] + np.array(errors.offsets_v)[:, None]
    return np.asarray(np.round(read / step_v) * step_v)


@dataclass
class Bench:
    """A board with three Hall inputs and three voltages: windows of 200 ms to the grounds of verdicts."""

    rate_hz: float = 5000.0
    step_v: float = 0.02
    noise_v: float = 0.012
    probed: bool = True
    known: Known = field(default_factory=Known)
    driven: bool = False
    uncertain: tuple[tuple[int, int], ...] = ()
    off_by: OffBy = _OFF_BY
    look_ticks: int = 1

    def grounds(self, edges: Edges, volts: Floats | None, seconds: float, windows: tuple[int, ...] = ()) -> Grounds:
        """Of all windows; `windows`: their last ticks, else every 200 ms."""
        inputs = tuple(Input(k, InputKind.HALL, "ABC"[k], k, None, self.look_ticks) for k in range(3))
        least_v = 5.0 * self.noise_v
        probes = Probes((0, 1, 2), np.eye(3) - 1.0 / 3.0, least_v, 0.0, self.off_by) if self.probed else None
        following = Following(Halls((0, 1, 2), 120, None), probes)
        stretch = Stretch(TICK_HZ, self.probed, least_v)
        per_sample = TICK_HZ / self.rate_hz
        count = int(seconds * self.rate_hz)
        last = windows or tuple(range(WINDOW_TICKS, int(seconds * TICK_HZ) + 1, WINDOW_TICKS))
        first = 0
        for end_tick in last:
            end = min(round(end_tick / per_sample), count)
            window = _samples(volts, first, end, per_sample)
            stop = int(edges.ticks.searchsorted(window.end_tick))
            start = max(0, int(edges.ticks.searchsorted(window.first_tick)) - 640)
            before = edges.before if not start else int(edges.states[start - 1])
            train = EdgeTrain(
                inputs,
                TICK_HZ,
                before,
                edges.ticks[start:stop],
                edges.states[start:stop].astype(np.uint8),
                0,
                window.end_tick,
                self.uncertain,
            )
            stretch.take(following.step(train, window, self.driven))
            first = end
        return stretch.grounds(self.known)


_CHANNELS = tuple(Channel(k, Role.VOLTAGE, f"u{k}", "UVW"[k], "V", -60.0, 60.0) for k in range(3))


def _samples(volts: Floats | None, first: int, end: int, per_sample: float) -> Samples:
    count = end - first
    values = np.zeros((3, count)) if volts is None else np.ascontiguousarray(volts[:, first:end])
    missing, clipped = np.zeros(count, np.bool_), np.zeros((3, count), np.bool_)
    return Samples(_CHANNELS, first, round(first * per_sample), per_sample, TICK_HZ, values, missing, clipped)
