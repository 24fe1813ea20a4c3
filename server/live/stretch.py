"""What lies between two points that a person has set, as numbers: RMS, mean, power and energy, each with its ±. Pure.

All of it is of the samples between the points, whatever whole cycles they hold. Budgets as of the readings
(server/quantities/spread.py, power_spread.py), but for what straight lines between the samples leave out, which counts
by its bound.
"""

from collections.abc import Iterable
from math import hypot, inf, sqrt

import numpy as np
from numpy.typing import NDArray

from server.live.wave import Wave, in_step, rectangular
from server.quantities.beside import beside_words, delay_beside
from server.quantities.power_words import GAINS, NOISE, OFFSETS, SKEW, STEPS
from server.quantities.reasons import AC_COUPLED, given, joined
from server.quantities.spread import CUT
from server.quantities.uncertainty import CLOCK, Standard, combined
from server.readings import Reading, absent
from server.signals import Mean, mean_between

BETWEEN = "straight lines between samples"
_UNITS = {"V": ("voltage", "v"), "A": ("current", "a")}


def key_of(wave: Wave, what: str) -> str:
    """The key of the catalogue, as `voltage_rms_v`."""
    name, unit = _UNITS.get(wave.channel.unit, (wave.channel.role.name.lower(), "of_unit"))
    return f"{name}_{what}_{unit}"


def line_readings(wave: Wave, place: str, from_s: float, to_s: float) -> list[Reading]:
    """RMS and mean of a line between two moments; `place` stands behind their keys, empty for a main line."""
    keys = [key_of(wave, what) for what in ("rms", "mean")]
    if why_not := wave.trouble(from_s, to_s):
        return [absent(key, why_not, place) for key in keys]
    ends = wave.place(from_s), wave.place(to_s)
    squares, mean = mean_between(np.square(wave.values), *ends), mean_between(wave.values, *ends)
    rms, doubt = sqrt(max(squares.value, 0.0)), wave.doubt(from_s, to_s)
    spread = wave.spread(rms, squares.length)
    coupled = AC_COUPLED if wave.channel.ac_coupled else ""
    if spread.why_not:
        return [given(keys[0], rms, place, doubt), given(keys[1], mean.value, place, joined(doubt, coupled))]
    double = 2.0 * rms if rms else inf
    of_rms = [each for each in spread.rms_parts(rms, mean.value, 0.0) if each[0] != CUT]
    of_rms += _ends(wave, squares, spread.delay, spread.words.delay, 1.0 / double)
    of_mean = [each for each in spread.mean_parts(mean.value, rms, 0.0) if each[0] != CUT]
    of_mean += _ends(wave, mean, spread.delay, spread.words.delay, 1.0)
    return [
        given(keys[0], rms, place, doubt, uncertainty=combined(rms, of_rms, 0.0)),
        given(keys[1], mean.value, place, joined(doubt, coupled), uncertainty=combined(mean.value, of_mean)),
    ]


def _ends(wave: Wave, mean: Mean, delay_s: float, words: str, share: float) -> list[Standard]:
    """What a mean may be off by through its ends, times `share`: the delay moves them, and no line is straight."""
    moved = abs(mean.step) / mean.length * wave.rate_hz * delay_s
    return [(words, moved * share, inf), (BETWEEN, rectangular(mean.left_out) * share, inf)]


def power_readings(voltage: Wave, current: Wave, from_s: float, to_s: float) -> list[Reading]:
    """Mean of u i, and its energy, between two moments."""
    keys = ("active_power_w", "energy_j")
    if why_not := voltage.trouble(from_s, to_s) or current.trouble(from_s, to_s):
        return [absent(key, why_not) for key in keys]
    amps = in_step(voltage, current)
    ends = voltage.place(from_s), voltage.place(to_s)
    if np.isnan(amps[voltage.stretch(from_s, to_s)]).any():
        return [absent(key, "a point is outside of what was kept") for key in keys]
    inside = voltage.stretch(from_s, to_s)
    volts = voltage.values
    power = mean_between(volts * amps, *ends)
    doubt = joined(*dict.fromkeys((voltage.doubt(from_s, to_s), current.doubt(from_s, to_s))))
    seconds = to_s - from_s
    parts = _power_parts(voltage, current, volts[inside], amps[inside], power)
    joules = power.value * seconds
    if parts is None:
        return [given(keys[0], power.value, "", doubt), given(keys[1], joules, "", doubt)]
    clock = voltage.channel.clock
    of_energy = [(source, standard * seconds, dof) for source, standard, dof in parts]
    of_energy += [] if clock is None else [(CLOCK, abs(joules) * clock.standard, clock.dof)]
    return [
        given(keys[0], power.value, "", doubt, uncertainty=combined(power.value, parts)),
        given(keys[1], joules, "", doubt, uncertainty=None if clock is None else combined(joules, of_energy)),
    ]


def _power_parts(
    voltage: Wave, current: Wave, volts: NDArray[np.float64], amps: NDArray[np.float64], power: Mean
) -> list[Standard] | None:
    """As of a window's active power; None where a channel states no limits. A delay d changes P by d mean(u di/dt)."""
    rms_v, rms_a = float(np.sqrt(np.square(volts).mean())), float(np.sqrt(np.square(amps).mean()))
    mean_v, mean_a = float(volts.mean()), float(amps.mean())
    one, other = voltage.spread(rms_v, power.length), current.spread(rms_a, power.length)
    if one.why_not or other.why_not:
        return None
    late = delay_beside(voltage.channel, current.channel)
    if late is None:
        return None
    slope = abs(float((volts * np.gradient(amps)).mean())) * voltage.rate_hz if amps.size > 1 else 0.0
    apart = (beside_words(SKEW, late), slope * late.standard, late.dof)
    offsets = hypot(one.offset * max(abs(mean_a), other.offset), other.offset * max(abs(mean_v), one.offset))
    return [
        (NOISE, hypot(one.rms_noise * rms_a, other.rms_noise * rms_v), inf),
        (GAINS, abs(power.value) * hypot(one.gain, other.gain), inf),
        (OFFSETS, offsets, inf),
        apart,
        (STEPS, hypot(one.step * rms_a, other.step * rms_v), inf),
        *_ends(voltage, power, max(one.delay, other.delay), "delay of both channels", 1.0),
    ]


def stretch_readings(
    main: tuple[Wave | None, Wave | None], others: Iterable[tuple[str, Wave]], from_s: float, to_s: float
) -> list[Reading]:
    """Of the main voltage and current, of other lines by their places, and of power; `from_s` before `to_s`."""
    voltage, current = main
    readings: list[Reading] = []
    for place, wave in [*(("", each) for each in main if each is not None), *others]:
        readings += line_readings(wave, place, from_s, to_s)
    if voltage is not None and current is not None:
        readings += power_readings(voltage, current, from_s, to_s)
    return readings
