"""The voltages of three phase leads, against their mean, as far as a board measures them. Pure."""

from dataclasses import dataclass, replace
from itertools import permutations
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from firmware_protocol import Role, SampleKind
from server.motors import MotorType
from server.samples import Channel, Samples

_NOISES = 5.0  # spread of the leads below which a sample says nothing of the windings
_OFFSETS = 3.0  # and of what channels may read at nothing, where they say so
_LOUD, _OFFSET_SHARE = 20, 0.5  # samples; of `least_v`, what offsets may make three line voltages miss (ours)
CONTRADICT = 0.1  # of the largest: a dead channel of three misses by 0.33, one the other way round by 0.67 (own sums)
_NOISE_SHARE = (
    0.0005  # of the range, where no noise is stated: one code of 11 bits; common practice, no published source
)


class OffBy(NamedTuple):
    """What the leads' voltages may be off by, as standard uncertainties (JCGM 100, 4.3); None where nobody says."""

    delay_s: float | None
    volts: float | None
    gain: float | None = None


UNSAID = OffBy(None, None)


@dataclass(frozen=True, slots=True)
class Probes:
    """Where a board measures three leads: rows of `Samples.values`, and the (3, rows) weights that make lead voltages
    of them. `least_v`: spread of the three from which on a sample counts; `delay_s`: of the channels, their mean.
    `misses` (rows, rows): makes of voltages between leads what is wrong with them, None where there are not more than
    needed.
    """

    rows: tuple[int, ...]
    weights: NDArray[np.float64]
    least_v: float
    delay_s: float
    off_by: OffBy
    misses: NDArray[np.float64] | None = None

    def contradict(self, window: Samples) -> float | None:
        """By how much the channels differ from what any three leads could show, as a share (RMS) of the largest of
        them; None where they can't contradict, or too few samples are loud enough to tell it from offsets."""
        if self.misses is None:
            return None
        rows = list(self.rows)
        values = np.where(window.clipped[rows], np.nan, window.values[rows])
        values = values[:, np.nan_to_num(np.abs(values)).max(axis=0) >= self.least_v]
        values = values[:, np.isfinite(values).all(axis=0)]
        if values.shape[1] < _LOUD:
            return None
        off_v, size_v = (float(np.sqrt((each**2).mean(axis=1)).max()) for each in (self.misses @ values, values))
        return max(off_v - _OFFSET_SHARE * self.least_v, 0.0) / size_v


@dataclass(frozen=True, slots=True)
class Leads:
    """`volts` (3, samples): each lead against the mean of the three, NaN where a sample is missing, clipped or no more
    than what unequal gains make of a common voltage; `spread` (samples,): greatest less least; `read_v` (samples,): of
    what the channels read, RMS of them, of which an error of gain is a share. Sample k is what was at the terminals at
    `first_tick + k * ticks_per_sample`."""

    volts: NDArray[np.float64]
    spread: NDArray[np.float64]
    read_v: NDArray[np.float64]
    first_tick: float
    ticks_per_sample: float
    least_v: float

    @property
    def count(self) -> int:
        return int(self.spread.shape[0])

    def since(self, sample: int) -> "Leads":
        """What is left from this sample on."""
        its = self._part(slice(sample, None))
        return replace(its, first_tick=self.first_tick + sample * self.ticks_per_sample)

    def until(self, sample: int) -> "Leads":
        """What lies before this sample."""
        return self._part(slice(sample))

    def _part(self, which: slice) -> "Leads":
        return replace(self, volts=self.volts[:, which], spread=self.spread[which], read_v=self.read_v[which])

    @property
    def end_tick(self) -> float:
        return self.first_tick + self.count * self.ticks_per_sample


def joined(parts: list[Leads]) -> Leads:
    """All of them, each directly behind the one before; there is at least one."""
    if len(parts) == 1:
        return parts[0]
    volts = np.concatenate([each.volts for each in parts], axis=1)
    spread, read_v = (
        np.concatenate(rows) for rows in zip(*[(each.spread, each.read_v) for each in parts], strict=True)
    )
    return replace(parts[0], volts=volts, spread=spread, read_v=read_v, least_v=parts[-1].least_v)


def probes_of(channels: tuple[Channel, ...], motor: MotorType) -> Probes | None:
    """Three voltages at the leads' places, or two or three between leads (`U-V`); None where there are fewer.

    Three against any common point do: what they have in common drops out.
    """
    if len(motor.phases) != 3:
        return None
    at: dict[str, int] = {}
    for k, channel in enumerate(channels):
        if channel.role is Role.VOLTAGE and channel.kind is SampleKind.INSTANTANEOUS and channel.rate_hz:
            at.setdefault(channel.place.casefold(), k)
    names = [name.casefold() for name in motor.phases]
    if all(name in at for name in names):
        return _probes(channels, tuple(at[name] for name in names), np.eye(3) - 1.0 / 3.0)
    between = [
        (at[f"{names[m]}-{names[n]}"], m, n) for m, n in permutations(range(3), 2) if f"{names[m]}-{names[n]}" in at
    ]
    measured = np.zeros((len(between), 3))
    for row, (_, plus, minus) in enumerate(between):
        measured[row, [plus, minus]] = 1.0, -1.0
    if not between or np.linalg.matrix_rank(measured) < 2:
        return None
    weights = np.linalg.pinv(measured).astype(np.float64)
    probes = _probes(channels, tuple(k for k, _, _ in between), weights)
    return probes if len(between) == 2 else replace(probes, misses=np.eye(len(between)) - measured @ weights)


def _probes(channels: tuple[Channel, ...], rows: tuple[int, ...], weights: NDArray[np.float64]) -> Probes:
    its = [channels[row] for row in rows]
    noise = max(_NOISE_SHARE * (each.high - each.low) if each.noise_rms is None else each.noise_rms for each in its)
    least_v = max(_NOISES * noise, _OFFSETS * max(each.offset_limit or 0.0 for each in its))
    return Probes(rows, weights, least_v, float(np.mean([each.delay_s for each in its])), _off_by(its))


def _off_by(its: list[Channel]) -> OffBy:
    delays = [each.delay_error.standard for each in its if each.delay_error is not None]
    offsets = [each.offset_error.standard for each in its if each.offset_error is not None]
    gains = [each.gain.standard for each in its if each.gain is not None]
    # Delays: all late alike, in the worst case.
    delay_s, volts, gain = (max(said) if len(said) == len(its) else None for said in (delays, offsets, gains))
    return OffBy(delay_s, volts, gain)


def leads_of(window: Samples, probes: Probes) -> Leads:
    """The leads' voltages of a window."""
    rows = list(probes.rows)
    values = np.where(window.clipped[rows], np.nan, window.values[rows])
    volts, read_v = probes.weights @ values, np.sqrt((values**2).mean(axis=0))
    spread = volts.max(axis=0) - volts.min(axis=0)
    quiet = spread < _NOISES * (probes.off_by.gain or 0.0) * read_v
    volts[:, quiet], spread[quiet] = np.nan, np.nan
    first_tick = window.first_tick - probes.delay_s * window.tick_hz
    return Leads(volts, spread, read_v, first_tick, window.ticks_per_sample, probes.least_v)
