"""The numbers of a window, computed once for all its rows: what every family of readings is made from.

Pure function of the window; nothing is carried from one window to the next. Reasons are worded here where a number
cannot be had, so that all readings that need it say the same.
"""

from cmath import phase
from dataclasses import dataclass, field, replace
from math import floor, inf, sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from server.quantities.band import cut_off, folded, shares_near_end
from server.quantities.clipping import clipped_rows
from server.quantities.fundamental import MISFIT_MAX, fundamental, unusual
from server.quantities.layout import Layout, Pair, Row
from server.quantities.reasons import FEW_CYCLES, GAP, joined
from server.quantities.spread import Spread, scattered, silent, spreads_of
from server.quantities.uncertainty import Standard
from server.quantities.wander import telling_of_three_lines, wander_of
from server.samples import Samples
from server.signals import (
    APART_MIN,
    SHARPENED_CYCLES_MIN,
    half_cycle_rms,
    means,
    phasor_noise,
    phasor_slopes,
    phasors,
    residual_noise,
    sharpened,
    transform,
    whole_cycles,
)

ORDERS = 50
THD_ORDER_MAX = 40


@dataclass(frozen=True, slots=True)
class Analysis:
    """One entry a row of the layout (`power`: a pair). `partial` and `clipped` are words, empty where all is well.

    Without a frequency there are no fundamentals and harmonics, for the reason in `silence`. `fundamental`: RMS phasor.
    `harmonics`: RMS of orders 1 to `orders`, the highest below half the sample rate and at most ORDERS; of a row only
    the first `order_max` are what its channel carries. `line_squares`: mean squares of the voltages between the lines,
    L1-L2, L2-L3, L3-L1, where there are three. `distortion`: RMS of orders 2 to THD_ORDER_MAX of these.
    `spreads`: what each row may be off by. `wander`: relative standard uncertainty of the frequency by noise.
    `unsteady`: why to doubt frequency and fundamentals, or empty. `cycles`: of the fundamental in the window;
    `phasor_noise`: what noise does to it, in units of the least possible; `lean`: what the frequency does to the sizes
    of fundamentals, relative standard uncertainty; `spectrum`: its transform; `phasors`: RMS
    of all orders (rows, orders), each row as its channel delays it.
    `half_cycles`: RMS over each cycle from each half cycle on (rows, halves). `near_end`: of each row's RMS, what lies
    in the octave below the highest frequency that it carries; nothing known where it is empty.
    """

    layout: Layout
    rate_hz: float
    samples: int
    partial: str
    clipped: list[str]
    rms: list[float]
    mean: list[float]
    peak: list[float]
    power: list[float]
    spreads: list[Spread]
    silence: str
    frequency_hz: float | None = None
    clock: int = 0
    unsteady: str = ""
    fundamental: list[complex] = field(default_factory=list)
    harmonics: list[list[float]] = field(default_factory=list)
    distortion: list[float] = field(default_factory=list)
    orders: int = 0
    order_max: list[int] = field(default_factory=list)
    line_squares: list[float] = field(default_factory=list)
    wander: float = 0.0
    cycles: float = 0.0
    phasor_noise: float = 1.0
    lean: float = 0.0
    spectrum: NDArray[np.complex128] | None = None
    phasors: NDArray[np.complex128] | None = None
    half_cycles: NDArray[np.float64] | None = None
    near_end: list[float] = field(default_factory=list)

    def mean_parts(self, row: int) -> list[Standard]:
        """What the mean of a row may be off by."""
        return self.spreads[row].mean_parts(self.mean[row], self.rms[row], self.wander)

    def cut_off(self, row: int) -> str:
        """Why the RMS of a row is no more than a lower bound, or empty."""
        return cut_off(self.near_end[row], self.layout.rows[row], self.rate_hz) if self.near_end else ""

    def folded(self, row: int) -> str:
        """Why to doubt all of a row but its frequency, or empty."""
        return folded(self.near_end[row], self.layout.rows[row], self.rate_hz) if self.near_end else ""


def analyse(window: Samples, layout: Layout) -> Analysis:
    """All numbers of a window of which at least one sample came and that has a voltage or a current."""
    values = _rows(window.values, layout)
    clipped = clipped_rows(window, layout)
    if window.missing.any():
        partial = f"{int(window.missing.sum())} of {window.count} samples missing"
        come = np.ascontiguousarray(values[:, ~window.missing])
        spreads = [silent(row, GAP) for row in layout.rows]
        return _without_frequency(window, layout, clipped, _levels(come, layout, None), spreads, GAP, partial=partial)
    spectrum = transform(values)
    tone, clock, silence = fundamental(spectrum, values, window.rate_hz, layout)
    if tone is None:
        levels = _levels(values, layout, None)
        spreads = _unclipped(scattered(layout.rows, values, spectrum, levels.rms, levels.mean), clipped, layout)
        levels = levels._replace(line_squares=_without_noise(levels.rms, levels.line_squares, spreads, layout))
        near_end = shares_near_end(spectrum, values, window.rate_hz, layout.rows, levels.rms)
        a = _without_frequency(window, layout, clipped, levels, spreads, silence)
        return replace(a, spectrum=spectrum, near_end=near_end)
    orders = phasors(spectrum, window.count, tone.cycles, min(ORDERS, floor((spectrum.shape[1] - 3) / tone.cycles)))
    unsteady = "the waveform was not steady in this window" if tone.misfit > MISFIT_MAX else ""
    cycles, telling = tone.cycles, tone.rms * telling_of_three_lines(tone.cycles)
    if not unsteady and cycles >= SHARPENED_CYCLES_MIN:
        cycles, telling = sharpened(values[clock], cycles, orders[clock])
    rms, mean, peak, power, lines = _levels(values, layout, cycles)
    hertz = cycles * window.rate_hz / window.count
    unsteady = joined(unsteady, unusual(hertz) if layout.is_fed else "")
    spreads = _unclipped(_spreads(spectrum, window.count, cycles, orders, rms, layout), clipped, layout)
    lines = _without_noise(rms, lines, spreads, layout)
    read = orders
    delays = [row.channel.delay_s for row in layout.rows]
    if min(delays) != max(delays):
        orders, power = _undelayed(orders, power, layout, hertz, np.array(delays))
    highest = [_order_max(row, hertz, orders.shape[1]) for row in layout.rows]
    wander = wander_of(cycles, telling, spreads[clock].noise, window.count)
    sizes, distortion = _sizes(orders, highest)
    return Analysis(
        layout=layout,
        rate_hz=window.rate_hz,
        samples=window.count,
        partial="",
        clipped=clipped,
        rms=rms,
        mean=mean,
        peak=peak,
        power=power,
        spreads=spreads,
        silence="",
        frequency_hz=hertz,
        clock=clock,
        unsteady=unsteady,
        fundamental=orders[:, 0].tolist(),
        harmonics=sizes,
        distortion=distortion,
        orders=orders.shape[1],
        order_max=highest,
        line_squares=lines,
        wander=wander,
        cycles=cycles,
        phasor_noise=phasor_noise(cycles),
        lean=abs(cycles * wander * float(phasor_slopes(cycles, 1)[0])),
        spectrum=spectrum,
        phasors=read,
        half_cycles=half_cycle_rms(values, cycles, phase(complex(read[clock, 0]))),
        near_end=shares_near_end(spectrum, values, window.rate_hz, layout.rows, rms),
    )


def _without_frequency(
    window: Samples,
    layout: Layout,
    clipped: list[str],
    levels: "_Levels",
    spreads: list[Spread],
    silence: str,
    *,
    partial: str = "",
) -> Analysis:
    return Analysis(
        layout=layout,
        rate_hz=window.rate_hz,
        samples=window.count,
        partial=partial,
        clipped=clipped,
        rms=levels.rms,
        mean=levels.mean,
        peak=levels.peak,
        power=levels.power,
        spreads=spreads,
        silence=silence,
        line_squares=levels.line_squares,
    )


def _spreads(
    spectrum: NDArray[np.complex128],
    samples: int,
    cycles: float,
    orders: NDArray[np.complex128],
    rms: list[float],
    layout: Layout,
) -> list[Spread]:
    length = whole_cycles(samples, cycles).length
    if cycles >= APART_MIN and orders.shape[1] > 1:
        noise, floors, dof = residual_noise(spectrum, samples, cycles, orders)
        return spreads_of(layout.rows, noise.tolist(), floors.tolist(), float(dof), rms, length)
    if any(row.channel.noise_rms is None for row in layout.rows):
        return [silent(row, FEW_CYCLES) for row in layout.rows]
    stated = [row.channel.noise_rms or 0.0 for row in layout.rows]
    return spreads_of(layout.rows, stated, stated, inf, rms, length)


def _without_noise(rms: list[float], lines: list[float], spreads: list[Spread], layout: Layout) -> list[float]:
    """The board's own noise taken out of each RMS, in place, and out of the mean squares between lines."""
    own = [spread.own_noise**2 for spread in spreads]
    rms[:] = [sqrt(max(each * each - noise, 0.0)) for each, noise in zip(rms, own, strict=True)]
    left = []
    for line, (u, v) in zip(lines, between(layout), strict=True):
        weights = dict(layout.rows[u].mix or ((u, 1.0),))
        for k, weight in layout.rows[v].mix or ((v, 1.0),):
            weights[k] = weights.get(k, 0.0) - weight
        left.append(line - sum(weight * weight * own[k] for k, weight in weights.items()))
    return left


def _unclipped(spreads: list[Spread], clipped: list[str], layout: Layout) -> list[Spread]:
    """Of a row that reached the end of its range nothing can be said."""
    if not any(clipped):
        return spreads
    both = zip(spreads, clipped, layout.rows, strict=True)
    return [silent(row, why_not) if why_not else spread for spread, why_not, row in both]


def _rows(values: NDArray[np.float64], layout: Layout) -> NDArray[np.float64]:
    rows = values if layout.take == tuple(range(values.shape[0])) else values[list(layout.take)]  # no copy as a rule
    made = [np.array([w for _, w in row.mix]) @ rows[[k for k, _ in row.mix]] for row in layout.rows if row.mix]
    return np.vstack((rows, *made)) if made else rows


class _Levels(NamedTuple):
    """Of each row, but for the power of each pair and the mean squares of the voltages between the lines."""

    rms: list[float]
    mean: list[float]
    peak: list[float]
    power: list[float]
    line_squares: list[float]


def _levels(values: NDArray[np.float64], layout: Layout, cycles: float | None) -> _Levels:
    """Over whole cycles where there are any. The square between two lines: (u - v)^2 is u^2 + v^2 - 2 u v."""
    sides = between(layout)
    ones, others = [pair.voltage for pair in layout.pairs], [pair.current for pair in layout.pairs]
    pairs = ones + [one for one, _ in sides], others + [other for _, other in sides]
    found = means(values, pairs, whole_cycles(values.shape[1], cycles))
    squares, products = found.squares.tolist(), found.products.tolist()
    peak = np.maximum(values.max(axis=1), -values.min(axis=1)).tolist()
    power, shared = products[: len(ones)], products[len(ones) :]
    lines = [squares[u] + squares[v] - 2.0 * uv for (u, v), uv in zip(sides, shared, strict=True)]
    return _Levels([sqrt(square) for square in squares], found.values.tolist(), peak, power, lines)


def between(layout: Layout) -> list[tuple[int, int]]:
    """Rows of the two lines of each voltage between lines."""
    if layout.three_voltages is None:
        return []
    one, two, three = layout.three_voltages
    return [(one, two), (two, three), (three, one)]


def _undelayed(
    orders: NDArray[np.complex128],
    power: list[float],
    layout: Layout,
    hertz: float,
    delays_s: NDArray[np.float64],
) -> tuple[NDArray[np.complex128], list[float]]:
    """Phasors turned back by each channel's own delay, and what that changes in the power of each pair."""
    k = np.arange(1, orders.shape[1] + 1)
    turned = orders * np.exp(2j * np.pi * hertz * np.multiply.outer(delays_s, k))
    changed = [power[n] + _product(turned, pair) - _product(orders, pair) for n, pair in enumerate(layout.pairs)]
    return turned, changed


def _product(orders: NDArray[np.complex128], pair: Pair) -> float:
    """Active power of all orders."""
    return float(np.vdot(orders[pair.current], orders[pair.voltage]).real)


def _sizes(orders: NDArray[np.complex128], highest: list[int]) -> tuple[list[list[float]], list[float]]:
    sizes = np.abs(orders)
    for k, top in enumerate(highest):
        sizes[k, top:] = 0.0
    rest = sizes[:, 1:THD_ORDER_MAX]
    return sizes.tolist(), np.sqrt(np.einsum("ij,ij->i", rest, rest)).tolist()


def _order_max(row: Row, hertz: float, most: int) -> int:
    corner = row.channel.corner_high_hz
    return most if corner is None else min(most, floor(corner / hertz))
