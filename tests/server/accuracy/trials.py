"""Windows drawn at random and what is read from them, against what is true and the bound of what can be known.

A window holds a voltage and a current of one frequency, each with its mean, its harmonics and white noise as far below
its own fundamental (RMS to RMS, over the whole sampled band) as the case says. It is there PAIRS times, each with a
noise of its own; the frequency is that of the first voltage. Phases are drawn anew for every NOISES windows.
"""

from collections import defaultdict
from dataclasses import dataclass, replace
from math import floor, pi, sqrt

import numpy as np
from numpy.typing import NDArray

from firmware_protocol import Role
from server.quantities.analysis import Analysis, analyse
from server.quantities.layout import layout_of
from server.samples import Channel, Samples
from tests.server.accuracy.bound import Bounds, Row, bounds, middle_times

NOISES = 30
PAIRS = 8
_TICK_HZ = 1e6
_VOLTS, _AMPS = 230.0, 5.0
_WINDOW_S = 0.2
_FINE = 20_000

# Sizes of the voltage's and the current's harmonics as shares of the fundamental, and their means.
SHAPES: dict[str, tuple[dict[int, float], dict[int, float], float, float]] = {
    "sine": ({}, {}, 0.0, 0.0),
    "mains": ({3: 0.01, 5: 0.03, 7: 0.02, 11: 0.01}, {2: 0.01, 3: 0.1, 5: 0.06, 7: 0.03, 9: 0.01}, 0.0, 0.01),
    "rich": (
        {5: 0.2, 7: 0.12, 11: 0.08, 13: 0.05, 17: 0.03, 19: 0.02},
        {2: 0.05, 3: 0.2, 5: 0.2, 7: 0.14, 11: 0.09, 13: 0.07, 25: 0.03, 50: 0.01},
        0.02,
        0.1,
    ),
}


FREQUENCY, POWER, ANGLE, SIZES = "frequency", "active power", "phase angle", "harmonics"
RMS = ("RMS voltage", "RMS current")
QUANTITIES = (FREQUENCY, *RMS, POWER, ANGLE, SIZES)


@dataclass(frozen=True, slots=True)
class Case:
    """`drift`: the frequency moves by up to this many hertz a second, each amplitude by ten per cent of it a second."""

    hertz: float
    snr_db: float
    shape: str = "mains"
    rate_hz: float = 20_000.0
    drift: float = 0.0


@dataclass(frozen=True, slots=True)
class Drawn:
    """One voltage and one current as they are in the middle of the window, and how they change: per second."""

    rows: tuple[Row, Row]
    hertz_slope: float
    size_slopes: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Truth:
    rows: tuple[Row, Row]
    rms: tuple[float, float]
    power: float


def ratios(case: Case, windows: int, seed: int) -> dict[str, float]:
    """Root-mean-square error over the bound, by quantity; of harmonics that of the worst order."""
    draw = np.random.default_rng([seed, round(case.hertz * 1000), round(case.snr_db), round(case.rate_hz)])
    squares: dict[str, list[float]] = defaultdict(list)
    for _ in range(max(1, windows // NOISES)):
        drawn = _drawn(case, draw)
        count = round(case.rate_hz * _WINDOW_S)
        sigmas = [abs(row.phasors[1]) * 10 ** (-case.snr_db / 20) for row in drawn.rows]
        least = bounds(drawn.rows, sigmas, case.hertz, case.rate_hz, count)
        clock = bounds(drawn.rows[:1], sigmas[:1], case.hertz, case.rate_hz, count)  # the frequency is the voltage's
        truth = _truth(drawn, case, count)
        clean = _waves(drawn, case.hertz, middle_times(case.rate_hz, count))
        for _ in range(NOISES):
            noise = draw.standard_normal((2, PAIRS, count)) * np.reshape(sigmas, (2, 1, 1))
            read = _read((clean[:, np.newaxis] + noise).reshape(2 * PAIRS, count), case.rate_hz)
            assert read.frequency_hz is not None
            squares[FREQUENCY].append(((read.frequency_hz - case.hertz) / clock.frequency_hz) ** 2)
            for pair in range(PAIRS):
                for name, error in _errors(read, pair, truth, least):
                    squares[name].append(error**2)
    found: dict[str, float] = {}
    for name, each in squares.items():
        what = name.split(",")[0]
        found[what] = max(found.get(what, 0.0), sqrt(float(np.mean(each))))
    return found


def _drawn(case: Case, draw: np.random.Generator) -> Drawn:
    volts, amps, volts_mean, amps_mean = SHAPES[case.shape]
    order_max = 0.45 * case.rate_hz / case.hertz
    rows = []
    for size, shares, mean in ((_VOLTS, volts, volts_mean), (_AMPS, amps, amps_mean)):
        turns = {k: size * part * np.exp(2j * pi * draw.random()) for k, part in {1: 1.0, **shares}.items()}
        rows.append(Row({k: phasor for k, phasor in turns.items() if k <= order_max}, mean * size))
    slopes = draw.uniform(-1.0, 1.0, 3) * case.drift * (1.0, 0.1, 0.1)
    return Drawn((rows[0], rows[1]), float(slopes[0]), (float(slopes[1]), float(slopes[2])))


def _waves(drawn: Drawn, hertz: float, t: NDArray[np.float64]) -> NDArray[np.float64]:
    angle = 2 * pi * (hertz * t + drawn.hertz_slope * t * t / 2)
    waves = []
    for row, slope in zip(drawn.rows, drawn.size_slopes, strict=True):
        wave = sum((sqrt(2) * phasor * np.exp(1j * k * angle)).real for k, phasor in row.phasors.items())
        waves.append(row.mean + (1 + slope * t) * wave)
    return np.vstack(waves)


def _truth(drawn: Drawn, case: Case, count: int) -> Truth:
    """RMS and power are means over the whole cycles in the window's middle, of a wave that drifts too; so they are
    taken here from the wave itself, at midpoints of a fine grid. All else is what holds in the middle."""
    if not case.drift:
        volts, amps = drawn.rows
        shared = (k for k in volts.phasors if k in amps.phasors)
        power = sum((volts.phasors[k] * amps.phasors[k].conjugate()).real for k in shared)
        return Truth(drawn.rows, (volts.rms, amps.rms), volts.mean * amps.mean + power)
    turns = floor(case.hertz * (count + 0.5) / case.rate_hz)
    fine = (np.arange(_FINE) + 0.5) / _FINE - 0.5
    whole = round(turns / case.hertz * case.rate_hz)
    off = ((count - whole) // 2 - (count - whole) / 2) / case.rate_hz  # whole cycles stand on a whole sample
    waves = _waves(drawn, case.hertz, off + fine * (turns / case.hertz))
    rms = np.sqrt(np.mean(waves * waves, axis=1)).tolist()
    return Truth(drawn.rows, (rms[0], rms[1]), float(np.mean(waves[0] * waves[1])))


_ROLES = ((Role.VOLTAGE, "V", 1000.0), (Role.CURRENT, "A", 20.0))
_CHANNELS = tuple(
    Channel(k, role, f"{unit} {k}", f"place {k % PAIRS}", unit, -high, high, 0, noise_rms=high * 1e-4)
    for k, (role, unit, high) in enumerate(each for each in _ROLES for _ in range(PAIRS))
)


def _read(values: NDArray[np.float64], rate_hz: float) -> Analysis:
    channels = tuple(replace(channel, rate_hz=rate_hz) for channel in _CHANNELS)
    flags = np.zeros(values.shape, dtype=np.bool_)
    window = Samples(channels, 0, 0, _TICK_HZ / rate_hz, _TICK_HZ, values, flags[0], flags)
    return analyse(window, layout_of(channels, None))


def _errors(read: Analysis, pair: int, truth: Truth, least: Bounds) -> list[tuple[str, float]]:
    """Each quantity of a pair with its error, in units of its bound."""
    volts, amps = truth.rows
    angle = read.fundamental[pair] * read.fundamental[PAIRS + pair].conjugate()
    turned = np.angle(angle * amps.phasors[1] * volts.phasors[1].conjugate())
    found = [(POWER, (read.power[pair] - truth.power) / least.power), (ANGLE, float(turned) / least.angle_rad)]
    for k, row in enumerate(truth.rows):
        at = k * PAIRS + pair
        found.append((RMS[k], (read.rms[at] - truth.rms[k]) / least.rms[k]))
        for order, phasor in row.phasors.items():
            if order <= read.order_max[at]:
                off = read.harmonics[at][order - 1] - abs(phasor)
                found.append((f"{SIZES}, order {order} of {RMS[k]}", off / least.sizes[k][order]))
    return found
