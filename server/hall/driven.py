"""Phase currents and voltages against the Hall state: what a drive makes of each sector. Pure; of one window alone.

May assume three Hall inputs, and currents and voltages (3, samples) of U V W. Knows no motor and no wiring: in each
sector the table names the pair that is driven, whatever hangs on it.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from server.hall.table import DRIVEN, SECTOR_1_BEGINS_DEG, SECTOR_DEG, sectors
from server.hall.tail import Tail

_BINS = 12  # of a sector, for the torque over the angle
_RAIL = 0.04  # of the link: nearer to a rail a lead is held there by a diode and shows no back-EMF
_NEAR = 0.7  # of the greatest seen: beyond it the back-EMF of a flat top bends
_TAIL = 0.1  # of the greatest current: what flows in the third lead beyond that is the end of its own drive
_FREE_MIN = 0.25  # of the samples that must show the third lead free
_FIT_MIN = 12
_SAMPLES_MIN = 2  # in a sector
_ALIKE = 0.5  # of the greatest sector: below it more than a resistance is wrong
_SETTLES_S = 0.003  # L / R: common practice, no published source; 1 to 4 ms make little difference
_WIDE = 0.021  # of the resistance, for each degree that the sectors of a pair are too wide


@dataclass(frozen=True, slots=True)
class SectorSamples:
    """Samples `first`..`last` of the window, those of whole visits: `sector` 0..5 and `through` (0..1 of its visit) of
    each. By visit: its first sample in `visits`, its sector in `visited`, how long it took in samples in `took`.
    `order`: +1 where sectors count up, -1 down."""

    first: int
    last: int
    sector: NDArray[np.int64]
    through: NDArray[np.float64]
    order: int
    visits: NDArray[np.int64]
    visited: NDArray[np.int64]
    took: NDArray[np.float64]


def turned(tail: Tail, spacing_deg: int, first_tick: float, ticks_per_sample: float, count: int) -> SectorSamples | str:
    """The window's whole visits, or why there are none that can be used."""
    inside = tail.ticks > first_tick
    ticks, sector = tail.ticks[inside], sectors(spacing_deg)[tail.states[inside]] - 1
    if ticks.shape[0] < 7:
        return "less than one electrical turn in the window"
    steps = (np.diff(sector) + 3) % 6 - 3
    order = int(np.sign(steps.sum()))
    if (sector < 0).any() or order == 0 or (steps != order).any():
        return "the Hall states did not come in order"
    edges = (ticks - first_tick) / ticks_per_sample
    begin = np.ceil(edges).astype(np.int64)
    begin = np.minimum(begin, count)
    lengths = np.diff(begin)
    if (lengths < _SAMPLES_MIN).any():
        return "sampled too slowly for this speed: fewer than two samples in a sector"
    visit = np.repeat(np.arange(lengths.shape[0]), lengths)
    through = (np.arange(begin[0], begin[-1]) - edges[visit]) / np.diff(edges)[visit]
    starts = begin[:-1] - begin[0]
    return SectorSamples(
        int(begin[0]), int(begin[-1]), sector[visit], through, order, starts, sector[:-1], np.diff(edges)
    )


_PLUS = np.array([pair[0] for pair in DRIVEN])
_MINUS = np.array([pair[1] for pair in DRIVEN])
_FREE = 3 - _PLUS - _MINUS


def pair_currents(turning: SectorSamples, amps: NDArray[np.float64]) -> NDArray[np.float64]:
    """Mean current of the driven pair in each of the six sectors (6,), in A: positive where it flows as forward drive
    makes it; NaN for a sector without a visit. `amps` (3, samples) of the window."""
    its = amps[:, turning.first : turning.last]
    at = np.arange(its.shape[1])
    pair = 0.5 * (its[_PLUS[turning.sector], at] - its[_MINUS[turning.sector], at])
    lengths = np.diff(turning.visits, append=its.shape[1])
    means = np.add.reduceat(pair, turning.visits) / lengths
    counts = np.bincount(turning.visited, minlength=6)
    with np.errstate(invalid="ignore"):
        sums: NDArray[np.float64] = np.bincount(turning.visited, means, 6) / np.where(counts, counts, np.nan)
    return sums


def widths_deg(turning: SectorSamples) -> NDArray[np.float64]:
    """How wide each of the six sectors is (6,): electrical degrees by time, over the window's whole turns; mean 60."""
    whole = turning.took.shape[0] // 6 * 6
    took = np.bincount(turning.visited[:whole], turning.took[:whole], 6)
    widths: NDArray[np.float64] = 360.0 * took / took.sum()
    return widths


def more_resistance(turning: SectorSamples, amps: NDArray[np.float64], rate_hz: float) -> tuple[float, ...] | None:
    """How much more resistance each of U V W seems to have than the mean of the other two, as a share; None where it
    can't be compared.

    At the same voltage and back-EMF resistance times (i + L/R di/dt) is the same for all pairs. L/R is taken as usual
    for such motors, and what a sector that is too wide does to it as found by trial on modelled motors: both are ours.
    """
    its = amps[:, turning.first : turning.last]
    at = np.arange(its.shape[1])
    pair = its[_PLUS[turning.sector], at] - its[_MINUS[turning.sector], at]
    lengths = np.diff(turning.visits, append=its.shape[1])
    means = np.add.reduceat(pair, turning.visits) / lengths
    sectors_of = np.abs(
        np.bincount(turning.visited, means, 6) / np.maximum(np.bincount(turning.visited, minlength=6), 1)
    )
    if sectors_of.min() < _ALIKE * sectors_of.max():
        return None
    rises = (pair[turning.visits + lengths - 1] - pair[turning.visits]) * rate_hz / lengths
    which = turning.visited % 3  # UV, UW, VW
    counts = np.bincount(which, minlength=3)
    settled = np.bincount(which, means + _SETTLES_S * rises, 3) / np.maximum(counts, 1)
    if not (settled > 0.0).all() and not (settled < 0.0).all():
        return None
    without = (1.0 / np.abs(settled))[::-1]  # resistance of the pair without U, V, W
    each = without.sum() - 2.0 * without
    if (each <= 0.0).any():
        return None
    took = np.bincount(which, turning.took, 3) / np.maximum(counts, 1)
    wide = SECTOR_DEG * (took[::-1] / took.mean() - 1.0)
    more = 2.0 * each / (each.sum() - each) - 1.0 - _WIDE * wide
    u, v, w = more.tolist()
    return u, v, w


def torque_ripple(turning: SectorSamples, amps: NDArray[np.float64]) -> float | None:
    """(greatest - least) / mean of the torque over an electrical turn, of a motor with flat tops of 120 degrees whose
    Hall edges sit right; None where the mean is nothing. Mean over the window's turns at 72 angles."""
    its = amps[:, turning.first : turning.last]
    angle = SECTOR_1_BEGINS_DEG + SECTOR_DEG * (turning.sector + _forward(turning))
    shapes = np.stack([flat_top(angle - 120.0 * phase) for phase in range(3)])
    torque = (shapes * its).sum(axis=0)
    place = turning.sector * _BINS + np.minimum((_forward(turning) * _BINS).astype(np.int64), _BINS - 1)
    counts = np.bincount(place, minlength=6 * _BINS)
    means = np.bincount(place, torque, 6 * _BINS)[counts > 0] / counts[counts > 0]
    mean = float(means.mean())
    return None if mean == 0.0 else float(means.max() - means.min()) / abs(mean)


def flat_top(angle_deg: NDArray[np.float64]) -> NDArray[np.float64]:
    """Back-EMF over its peak of an ideal phase: flat over 120 degrees, straight slopes of 60; 0 rising at 0 degrees."""
    lower = np.abs((angle_deg - 90.0 + 180.0) % 360.0 - 180.0)
    out: NDArray[np.float64] = np.clip((90.0 - lower) / 30.0, -1.0, 1.0)
    return out


@dataclass(frozen=True, slots=True)
class Timing:
    """`late_deg`: electrical degrees that the Hall edges come after the place where a drive wants them, in the
    direction turned; `free`: share of the samples whose third lead showed its back-EMF."""

    late_deg: float
    free: float


def timing(
    turning: SectorSamples, volts: NDArray[np.float64], link_v: NDArray[np.float64], amps: NDArray[np.float64]
) -> Timing | None:
    """From the zero of the lead that is not driven, against the middle of the two that are: it belongs in the middle of
    the sector. None where diodes hold that lead nearly all the time. `volts` (3, samples) against DC minus."""
    height, free = _back_emf(turning, volts, link_v, amps)
    share = float(np.count_nonzero(free)) / max(free.shape[0], 1)
    if share < _FREE_MIN:
        return None
    near = free & (np.abs(height) < _NEAR * float(np.quantile(np.abs(height[free]), 0.95)))
    x, y = turning.through[near], height[near]
    if x.shape[0] < _FIT_MIN:
        return None
    offset = x - x.mean()
    slope = float(offset @ y) / float(offset @ offset)
    if slope <= 0.0:
        return None
    crossing = float(x.mean()) - float(y.mean()) / slope
    return Timing(SECTOR_DEG * (0.5 - crossing), share)


def _back_emf(
    turning: SectorSamples, volts: NDArray[np.float64], link_v: NDArray[np.float64], amps: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Of the third lead, turned so that it rises through each sector; and where no diode holds the lead."""
    its, link = volts[:, turning.first : turning.last], link_v[turning.first : turning.last]
    its_amps = np.abs(amps[:, turning.first : turning.last])
    at = np.arange(its.shape[1])
    third = _FREE[turning.sector]
    lead = its[third, at]
    middle = 0.5 * (its[_PLUS[turning.sector], at] + its[_MINUS[turning.sector], at])
    rising = np.where(turning.sector % 2 == 1, 1.0, -1.0)  # backward too: EMF and time both change their sign
    free = (lead > _RAIL * link) & (lead < (1.0 - _RAIL) * link)
    free &= its_amps[third, at] < _TAIL * its_amps.max(axis=0)
    return (lead - middle) * rising, free


def _forward(turning: SectorSamples) -> NDArray[np.float64]:
    """How far into its sector, counted the way sectors count up."""
    return turning.through if turning.order > 0 else 1.0 - turning.through
