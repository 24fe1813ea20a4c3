"""What each row of a window may be off by: noise from the window itself, the rest from its channel. Pure.

Noise is taken as white up to half the sample rate, as loud as what is left between the harmonics; where there is no
fundamental, that of a mean as loud as the lowest lines (JCGM 100, 4.2). Limits are taken as `Part` says.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import lru_cache
from math import hypot, inf, sqrt

import numpy as np
from numpy.typing import NDArray

from firmware_protocol.record import record
from server.quantities.layout import Row
from server.quantities.uncertainty import Standard
from server.samples import Channel, Part
from server.signals import noise_between

TENTHS = 10
LOW_LINES = 2, 22  # of a window of 200 ms 10 to 110 Hz
MIXED = "it is made of other channels, and shares what these are off by: without a fundamental nothing tells how"
_DITHERED = 1 / 3  # of a step: noise this loud makes rounding errors as random as itself, and part of it
_STEP = 1 / sqrt(12.0)
_OF_SQUARE = 1 / sqrt(8.0)
CUT, LEAN = "whole cycles by the frequency", "size by the frequency"


@dataclass(frozen=True, slots=True)
class Words:
    """How the budget names the parts of a row; of what was calibrated also when and against what."""

    name: str
    noise: str
    gain: str
    offset: str
    delay: str
    step: str


@record
class Spread:
    """Standard uncertainties of one row, in its unit but for `gain` (relative) and `delay` (s); 0 where there is none.

    `noise`: of one sample, `dof` its degrees of freedom; `mean_noise` and `rms_noise`: what it leaves of mean and RMS.
    `own_noise`: of the board, as far as it is seen: a known part of an RMS, which is taken out (JCGM 100, 3.2.3).
    `floor`: noise of one sample without the lines of anything that turns. `why_not`: why nothing can be said of sizes,
    or empty; `why_no_angle`: the same of angles, and of powers, which rest on them.
    """

    words: Words
    noise: float = 0.0
    dof: float = inf
    mean_noise: float = 0.0
    rms_noise: float = 0.0
    gain: float = 0.0
    offset: float = 0.0
    delay: float = 0.0
    step: float = 0.0
    own_noise: float = 0.0
    why_not: str = ""
    why_no_angle: str = ""
    gain_dof: float = inf
    offset_dof: float = inf
    floor: float = 0.0

    def rms_parts(self, rms: float, mean: float, wander: float) -> list[Standard]:
        """Of an RMS. An offset adds to it through the mean: it is known no better than itself.

        `wander`: of the frequency, relative; whole cycles are then cut a little too long or short, where the square is
        anywhere between nothing and twice its mean.
        """
        offset = max(abs(mean), self.offset) * self.offset / rms if rms else self.offset
        return [
            (self.words.noise, self.rms_noise, self.dof),
            (self.words.gain, self.gain * rms, self.gain_dof),
            (self.words.offset, min(offset, self.offset), self.offset_dof),
            (self.words.step, self.step, inf),
            (CUT, _OF_SQUARE * wander * rms, inf),
        ]

    def mean_parts(self, mean: float, rms: float, wander: float) -> list[Standard]:
        """Of a mean; `wander` as of an RMS, and a wave is anywhere between its peaks where it is cut."""
        return [
            (self.words.noise, self.mean_noise, self.dof),
            (self.words.gain, self.gain * abs(mean), self.gain_dof),
            (self.words.offset, self.offset, self.offset_dof),
            (self.words.step, self.step, inf),
            (CUT, wander * rms, inf),
        ]


@lru_cache(maxsize=128)
def _words(name: str) -> Words:
    return Words(name, *(f"{what} of {name}" for what in ("noise", "gain", "offset", "delay", "steps")))


@lru_cache(maxsize=128)
def _words_of(channel: Channel) -> Words:
    words = _words(channel.name)
    return replace(
        words,
        gain=_with_origin(words.gain, channel.gain),
        offset=_with_origin(words.offset, channel.offset_error),
        delay=_with_origin(words.delay, channel.delay_error),
    )


def _with_origin(words: str, part: Part | None) -> str:
    """A limit that the board states needs no words of its own."""
    return words if part is None or part.rectangular else f"{words}: {part.origin}"


@lru_cache(maxsize=128)
def unstated(channel: Channel) -> str:
    """What the channel does not say of its gain and offset and nobody has found out, or empty."""
    limits = (("gain", channel.gain), ("offset", channel.offset_error))
    missing = [what for what, part in limits if part is None]
    return f"the board states no limit for the {' and '.join(missing)} of {channel.name}" if missing else ""


def undelayed(channel: Channel) -> str:
    """The same of its delay, on which angles and powers rest."""
    return "" if channel.delay_error else f"the board states no limit for the delay of {channel.name}"


def silent(row: Row, why_not: str) -> Spread:
    """Of a row of which nothing can be said."""
    return Spread(_words(row.channel.name), why_not=why_not, why_no_angle=why_not)


def spreads_of(
    rows: tuple[Row, ...], noise: list[float], floor: list[float], dof: float, rms: list[float], length: float
) -> list[Spread]:
    """Of rows with a fundamental, over `length` samples."""
    root = sqrt(length)
    each = zip(rows, noise, floor, strict=True)
    return _with_sums(rows, rms, [_spread(row, k, k / root, k / root, dof, least) for row, k, least in each])


def scattered(
    rows: tuple[Row, ...],
    values: NDArray[np.float64],
    spectrum: NDArray[np.complex128],
    rms: list[float],
    mean: list[float],
) -> list[Spread]:
    """Of rows without one; `values` (rows, samples), `spectrum` as from `transform` of them.

    What flowed in the window flowed: the ripple of a commutator makes its mean no less sure. Noise of a mean is taken
    as that of the lowest lines, beside which nothing leaks, by their middle; an RMS is as much its own share of it, and
    for the rest as much noise of the samples. Of windows too short for that by the scatter over their tenths.
    """
    if spectrum.shape[1] <= LOW_LINES[1] + 1:
        return _over_tenths(rows, values, rms)
    noise, found = _of_neighbours(values), []
    for k, row in enumerate(rows):
        low, dof = noise_between(spectrum[k], values.shape[1], *LOW_LINES, 1)
        of_mean = low / sqrt(2.0 * (LOW_LINES[1] - LOW_LINES[0]))
        share = min(abs(mean[k]) / rms[k], 1.0) if rms[k] else 0.0
        of_rms = hypot(share * of_mean, sqrt((1.0 - share * share) / values.shape[1]) * noise[k])
        found.append(_spread(row, noise[k], of_mean, of_rms, dof))
    return _with_sums(rows, rms, found)


def _of_neighbours(values: NDArray[np.float64]) -> list[float]:
    """Noise of a sample by the differences of neighbours: what changes slowly is none."""
    steps = np.diff(values, axis=1)
    noise: list[float] = np.sqrt(0.5 * np.einsum("ij,ij->i", steps, steps) / steps.shape[1]).tolist()
    return noise


def _over_tenths(rows: tuple[Row, ...], values: NDArray[np.float64], rms: list[float]) -> list[Spread]:
    tenths = values[:, : values.shape[1] // TENTHS * TENTHS].reshape(values.shape[0], TENTHS, -1)
    of_means = tenths.mean(axis=2).std(axis=1, ddof=1)
    of_rms = np.sqrt(np.einsum("ijk,ijk->ij", tenths, tenths) / tenths.shape[2]).std(axis=1, ddof=1)
    every = zip(rows, _of_neighbours(values), of_means.tolist(), of_rms.tolist(), strict=True)
    root = sqrt(TENTHS)
    return _with_sums(
        rows, rms, [_spread(row, each, one / root, other / root, TENTHS - 1.0) for row, each, one, other in every]
    )


def _spread(row: Row, noise: float, mean_noise: float, rms_noise: float, dof: float, floor: float = 0.0) -> Spread:
    channel, words = row.channel, _words_of(row.channel)
    if why_not := unstated(channel):
        return Spread(words, noise, dof, why_not=why_not, why_no_angle=why_not, floor=floor)
    assert channel.gain is not None
    assert channel.offset_error is not None
    rounded = 0.0 if noise > _DITHERED * channel.step else _STEP * channel.step
    return Spread(
        *(words, noise, dof, mean_noise, rms_noise),
        *(channel.gain.standard, channel.offset_error.standard),
        *(channel.delay_error.standard if channel.delay_error else 0.0, rounded),
        min(noise, channel.noise_rms or 0.0),
        gain_dof=channel.gain.dof,
        offset_dof=channel.offset_error.dof,
        why_no_angle=undelayed(channel),
        floor=floor,
    )


def _with_sums(rows: tuple[Row, ...], rms: list[float], found: list[Spread]) -> list[Spread]:
    """A row that is made of others has what these have, as independent parts; that is true of its size alone."""
    return [_summed(row, rms[k], rms, found) if row.mix else found[k] for k, row in enumerate(rows)]


def _summed(row: Row, rms: float, every: list[float], found: list[Spread]) -> Spread:
    its = [found[k] for k, _ in row.mix]
    words = _words(" and ".join(one.words.name for one in its))

    def added(values: Iterable[float]) -> float:
        return hypot(*[weight * value for (_, weight), value in zip(row.mix, values, strict=True)])

    floor = added(one.floor for one in its)
    if why_not := next((one.why_not for one in its if one.why_not), ""):
        return Spread(words, why_not=why_not, why_no_angle=why_not, floor=floor)
    sizes = [every[k] / rms if rms else 1.0 for k, _ in row.mix]
    return Spread(
        words,
        added(one.noise for one in its),
        its[0].dof,
        added(one.mean_noise for one in its),
        added(one.rms_noise for one in its),
        added(one.gain * size for one, size in zip(its, sizes, strict=True)),
        added(one.offset for one in its),
        added(one.delay * size for one, size in zip(its, sizes, strict=True)),
        added(one.step for one in its),
        added(one.own_noise for one in its),
        why_no_angle=MIXED,
        floor=floor,
    )
