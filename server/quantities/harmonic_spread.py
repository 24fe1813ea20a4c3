"""What harmonics and distortions may be off by, and what noise adds to them (JCGM 100). Pure.

Parts: noise of the window, white as `Spread` says; the channel's gain; and its fall towards the upper corner that it
states, taken as at most that of a first-order filter (rectangular), for nobody says its shape. A squared amplitude
holds the noise's square as well: of a single harmonic that is part of its interval, of sums over many it is taken out.
All rows are done at once: an array of fifty numbers costs as much as one of four hundred.
"""

from dataclasses import dataclass
from math import hypot, inf, sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from server.quantities.analysis import Analysis
from server.quantities.mixed_harmonics import mixed_harmonics
from server.quantities.spread import Spread
from server.quantities.uncertainty import coverage_factor
from server.readings import Uncertainty
from server.signals import phasor_noises, phasor_slopes

CORNER = "fall towards the channel's upper corner"
_RECTANGULAR = 1 / sqrt(3.0)
_BY_THE_MIDDLE = 2.08  # variance of a mean square told by its median, over that told by its mean: 1 / ln(2)^2
_ALONE = 1.82, 13.0  # times its standard uncertainty above its mean, and more by 1 / degrees of freedom of its level:
# below it the square of noise alone is in 95 % of cases, of 1 to 12 lines and from 30 degrees on (found by trials)
Rows = NDArray[np.float64]  # (rows, orders)


@dataclass(frozen=True, slots=True)
class HarmonicSpread:
    """For all rows of a window: `noise`, standard deviation of real or imaginary part of a line of an unweighted
    window, (rows, 1); `read`, how many times its variance `phasors` lets through, (orders,), and `read_rest`, its mean
    over orders 2 to the one at the place; `shares`, by what share each order may be read too small, (rows, orders),
    None where no channel states an upper corner. `mixed`: what gains and delays do to rows that
    are made of others, as `mixed_harmonics`. `lean`: what the frequency does to each order, relative, with its sign,
    (orders,); None where that is nothing."""

    noise: Rows
    read: NDArray[np.float64]
    read_rest: list[float]
    shares: Rows | None
    gain: Rows
    step: Rows
    factors: list[float]
    spreads: list[Spread]
    mixed: dict[int, tuple[NDArray[np.float64], float]]
    lean: NDArray[np.float64] | None


class Leaked(NamedTuple):
    """Mean squares that other lines put on each value (rows, orders): in phase with its order, and on all its lines."""

    on_order: Rows
    on_all: Rows


def harmonic_spread(a: Analysis) -> HarmonicSpread:
    """Once for a window."""
    each = np.array([(spread.noise, spread.gain, spread.step) for spread in a.spreads]).T[..., np.newaxis]
    factor = {spread.dof: coverage_factor(spread.dof) for spread in a.spreads}  # nearly always one for all
    factors = [factor[spread.dof] for spread in a.spreads]
    made = [k for k in a.layout.made if not a.spreads[k].why_not]
    read = phasor_noises(a.cycles, a.orders) ** 2
    rest = (np.cumsum(read[1:]) / np.arange(1, a.orders)).tolist()
    return HarmonicSpread(
        each[0] / sqrt(a.samples),
        read,
        [0.0, 0.0, *rest],
        _shares(a),
        each[1],
        each[2],
        factors,
        a.spreads,
        {k: mixed_harmonics(a, k) for k in made},
        a.cycles * a.wander * np.arange(1, a.orders + 1) * phasor_slopes(a.cycles, a.orders) if a.lean else None,
    )


def _shares(a: Analysis) -> Rows | None:
    corners = [row.channel.corner_high_hz for row in a.layout.rows]
    if not any(corners):
        return None
    lowest = np.array([corner or inf for corner in corners])
    ratio = np.multiply.outer((a.frequency_hz or 0.0) / lowest, np.arange(1.0, a.orders + 1.0))
    shares: Rows = 1.0 - 1.0 / np.sqrt(1.0 + ratio * ratio)
    return shares


def mean_shares(of: HarmonicSpread, sizes: Rows) -> list[float]:
    """By what share the root of each row's summed squares may be too small; `sizes` from order 2 on."""
    if of.shares is None:
        return [0.0] * sizes.shape[0]
    squares = sizes * sizes
    falls = np.einsum("ij,ij->i", of.shares[:, 1 : sizes.shape[1] + 1], squares)
    shares: list[float] = (falls / np.maximum(squares.sum(axis=1), 1e-300)).tolist()
    return shares


def leaning(of: HarmonicSpread, sizes: list[float]) -> float:
    """Variance by the frequency of the summed squares of orders from 2 on, less that of the fundamental's square in
    proportion; `sizes` of one row from order 1 on."""
    if of.lean is None:
        return 0.0
    squares = np.square(sizes[1:])
    moved = float(squares @ (of.lean[1 : len(sizes)] - of.lean[0]))
    return (2.0 * moved) ** 2


def list_uncertainties(
    of: HarmonicSpread, values: Rows, lines: int, weighting: float | NDArray[np.float64], leaked: Leaked | None = None
) -> list[Uncertainty | None]:
    """Of each row's list of RMS values, order 1 first, each the root of summed squares of so many lines.

    `leaked`: from other lines. None where a channel does not say enough. Of the parts and ends, those of order 1 are
    told. Noise adds to a sum of squares: by so much each value may be too large.
    """
    if all(spread.why_not for spread in of.spreads):  # a board that states nothing
        return [None] * len(of.spreads)
    variance = weighting * of.noise * of.noise
    mean = 2.0 * lines * variance
    squares = values * values
    left = squares - mean
    if leaked is not None:
        left -= leaked.on_all
        variance = variance + leaked.on_order
    added = values - np.sqrt(np.maximum(left, 0.0, out=left), out=left)
    noise = np.sqrt(variance + added * added)
    gain = of.gain * values
    for k, (moved, _) in of.mixed.items():
        gain[k] = moved[: values.shape[1]]
    corner = np.zeros(values.shape) if of.shares is None else _RECTANGULAR * of.shares[:, : values.shape[1]] * values
    parts = noise * noise + gain * gain
    if of.shares is not None:
        parts += corner * corner
    if of.lean is not None:
        parts += np.square(of.lean[: values.shape[1]] * values)
    halves = np.sqrt(parts + of.step * of.step)
    halves *= np.array(of.factors)[:, np.newaxis]
    np.maximum(halves, np.where(squares < _of_nothing(of, mean, lines, leaked), values, 0.0), out=halves)
    first = np.stack((values[:, 0], noise[:, 0], gain[:, 0], corner[:, 0]), axis=1).tolist()
    return [
        None if spread.why_not else _listed(spread, factor, its, tuple(half))
        for spread, factor, its, half in zip(of.spreads, of.factors, first, halves.tolist(), strict=True)
    ]


def _of_nothing(of: HarmonicSpread, mean: Rows, lines: int, leaked: Leaked | None) -> Rows:
    """What squares are below where nothing is there but noise, of this mean, and what leaks."""
    least, more = _ALONE
    per_dof = np.array([1.0 / spread.dof for spread in of.spreads])[:, np.newaxis]
    relative = 1.0 / lines + 2.0 * per_dof
    if leaked is None:
        return mean * (1.0 + (least + more * per_dof) * np.sqrt(relative))
    scatter = np.sqrt(mean * mean * relative + 2.0 * leaked.on_all * leaked.on_all)
    return mean + leaked.on_all + (least + more * per_dof) * scatter


def _listed(spread: Spread, factor: float, first: list[float], halves: tuple[float, ...]) -> Uncertainty:
    words, (value, noise, gain, corner) = spread.words, first
    parts = ((words.noise, noise), (words.gain, gain), (CORNER, corner), (words.step, spread.step))
    return Uncertainty(max(value - halves[0], 0.0), value + halves[0], factor, parts, halves)


def distortion(
    of: HarmonicSpread,
    row: int,
    square: float,
    fundamental: float,
    lines: int,
    samples: int,
    weighting: float,
    corner: float,
    leaked: tuple[float, float] = (0.0, 0.0),
) -> tuple[float, Uncertainty | None]:
    """Root of a sum of squares over a fundamental in per cent, noise taken out, and what it may be off by.

    `square`: sum over so many lines; `corner`: by what share its root may be too small. The gain drops out. The
    interval is that of the square, which noise makes uncertain whatever is there; its root never passes 0. The level
    of the noise is known by its middle, from few lines. `leaked`: variance of the sum that
    lines from elsewhere give it, and what they add.
    """
    spread, factor = of.spreads[row], of.factors[row]
    noise = 2.0 * lines * weighting * spread.floor**2 / samples
    left = max(square - noise, 0.0)
    percent = 100.0 * sqrt(left) / fundamental
    if spread.why_not:
        return percent, None
    loud = weighting * spread.noise**2 / samples
    by_noise = sqrt(
        4.0 * left * loud * (1.0 + left / fundamental**2)
        + 4.0 * lines * loud * loud
        + noise * noise * _BY_THE_MIDDLE * 2.0 / spread.dof
    )
    if row in of.mixed:
        by_noise = hypot(by_noise, sqrt(of.mixed[row][1]))
    by_noise = sqrt(by_noise**2 + leaked[0] + leaked[1] ** 2)
    by_corner = 2.0 * left * corner * _RECTANGULAR
    scale = 100.0 / fundamental
    low, high = _ends(left, factor * sqrt(by_noise * by_noise + by_corner * by_corner))
    parts = (
        (spread.words.noise, scale * _half(left, factor * by_noise) / factor),
        (CORNER, scale * _half(left, factor * by_corner) / factor),
    )
    return percent, Uncertainty(scale * low, scale * high, factor, parts)


def _ends(square: float, half: float) -> tuple[float, float]:
    return sqrt(max(square - half, 0.0)), sqrt(square + half)


def _half(square: float, half: float) -> float:
    low, high = _ends(square, half)
    return 0.5 * (high - low)
