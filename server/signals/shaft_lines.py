"""How fast a shaft turns, from the lines that so many bars or slots to a turn make in a current. Pure; knows no motor.

The strongest line is not always that of the bars: a worn bar, an uneven load or a bent shaft make lines at whole turns.
So every strong line is tried as the bars' line, and the turn is taken whose whole multiples hold most of the lines
that are there, above all those at the bars' own orders. In alternating current each line stands twice, the supply's
frequency below and above. May assume nothing of the speed but the range that it is given.
"""

from dataclasses import dataclass
from math import inf, sqrt

import numpy as np
from numpy.typing import NDArray

from server.signals.weak_line import STANDS_OUT, Line, fit_line, near_line, peaks, prominence

_PEAKS_MAX = 16
_WIDE = 0.6  # lines: so far may a peak lie from where it is expected
_DRIFT = 2e-3  # of its frequency, by which it may lie further off
_OWN, _HALF, _OUTER = 2.0, 1.0, 0.3  # weights of lines at the bars' own orders, at half or twice, three f off
_RIVAL = 0.8  # of the best one's weight: another speed that holds as much fits as well
_MARGIN = 16  # lines above the highest that is looked for
_SAME = 0.01  # speeds that differ by less are one
_BESIDE = 1.5  # lines: nearer to a harmonic of the supply a peak is the harmonic's


@dataclass(frozen=True, slots=True)
class Orders:
    """Lines to a turn: `main` of them always, `bars` too where that is half as many (odd bars; else the same).

    `supply`: cycles in the window of an alternating supply, 0 of a direct one.
    """

    main: int
    bars: int
    supply: float = 0.0

    @property
    def own(self) -> list[tuple[int, float]]:
        """Orders of the lines that tell the speed, and how far beside them each stands."""
        if self.supply:
            return [(self.main, -self.supply), (self.main, self.supply)]
        return [(order, 0.0) for order in sorted({self.main, self.bars, 2 * self.main})]


@dataclass(frozen=True, slots=True)
class Turning:
    """Turns in the window and their standard uncertainty; the strongest line of the bars; another number of turns that
    fits nearly as well, None where there is none."""

    turns: float
    standard: float
    dof: float
    line: Line
    rival: float | None


def find_turning(
    spectrum: NDArray[np.complex128], samples: int, orders: Orders, low: float, high: float
) -> Turning | None:
    """Between `low` and `high` turns in the window; None where no line of the bars stands out of the noise.

    `spectrum`: plain transform (lines,) of the current.
    """
    top = min(int(max(order for order, _ in orders.own) * high + 3.0 * orders.supply) + _MARGIN, spectrum.shape[0])
    above = prominence(spectrum[:top], samples)
    at = peaks(above, max(0.5 * low, 3.0), inf, _PEAKS_MAX, orders.supply, _BESIDE)
    if not at.size:
        return None
    cycles, weights = near_line(above, at), np.log10(above[at])
    turns = np.concatenate([(cycles - side) / order for order, side in orders.own])
    turns = turns[(turns >= low) & (turns <= high)]
    if not turns.size:
        return None
    held = _held(turns, cycles, weights, orders)
    best = float(turns[int(held.argmax())])
    rivals = np.where(np.abs(turns / best - 1.0) > _SAME, held, 0.0)
    if not orders.supply:  # half the speed has all of its lines too, and no other: it is no rival
        others = cycles[~_whole(np.array([[best]]), cycles)[0]]
        rivals[~_whole(turns[:, np.newaxis], others).any(axis=1)] = 0.0
    rival = float(turns[int(rivals.argmax())]) if rivals.max() > _RIVAL * held.max() else None
    if rival is None and orders.supply:
        rival = _hidden(best, cycles, orders, high)
    return _refined(spectrum, samples, above, best, orders, rival)


def harmonics_of(turns: float, orders: Orders) -> tuple[int, ...]:
    """Which harmonics of the supply the lines of so many turns cannot be told from; empty where one of them can be."""
    found = [round((orders.main * turns + side) / orders.supply) for _, side in orders.own] if orders.supply else []
    near = [_is_harmonic(orders.main * turns + side, orders.supply) for _, side in orders.own]
    return tuple(found) if all(near) else ()


def _is_harmonic(cycles: float, supply: float) -> bool:
    return supply > 0.0 and abs(cycles - supply * round(cycles / supply)) <= _BESIDE


def _hidden(best: float, cycles: NDArray[np.float64], orders: Orders, high: float) -> float | None:
    """Turns at which the lines lie on harmonics and those found are what an eccentric rotor makes one turn below them;
    None where there are none one turn above."""
    turns = best * orders.main / (orders.main - 1)
    if turns > high or not harmonics_of(turns, orders):
        return None
    beyond = np.array([(orders.main + 1) * turns + side for _, side in orders.own])
    near = np.abs(cycles - beyond[:, np.newaxis]) < _tolerance(cycles)
    return turns if near.any(axis=1).all() else None


def strongest_line(spectrum: NDArray[np.complex128], samples: int, low: float, supply: float) -> Line | None:
    """The line from `low` cycles on that stands out most and is no harmonic of `supply` (cycles; 0: there is none)."""
    above = prominence(spectrum, samples)
    at = peaks(above, low, inf, 1, supply, _BESIDE)
    return fit_line(spectrum, samples, float(near_line(above, at)[0])) if at.size else None


def _held(
    turns: NDArray[np.float64], cycles: NDArray[np.float64], weights: NDArray[np.float64], orders: Orders
) -> NDArray[np.float64]:
    """How much of the lines each number of turns holds: (turns,)."""
    tolerance, each = _tolerance(cycles), turns[:, np.newaxis]
    main, f = orders.main * each, orders.supply
    if f:
        inner = _near(main - f, cycles, tolerance, weights) + _near(main + f, cycles, tolerance, weights)
        outer = _near(main - 3.0 * f, cycles, tolerance, weights) + _near(main + 3.0 * f, cycles, tolerance, weights)
        return inner + _OUTER * outer
    whole = _whole(each, cycles)
    by_chance = np.minimum(2.0 * tolerance / each, 1.0)  # a close comb holds some by chance: taken off
    held: NDArray[np.float64] = ((whole - by_chance) * weights).sum(axis=1)
    held += _OWN * _near(main, cycles, tolerance, weights) + _HALF * _near(2.0 * main, cycles, tolerance, weights)
    if orders.bars != orders.main:
        held += _HALF * _near(orders.bars * each, cycles, tolerance, weights)
    return held


def _tolerance(cycles: NDArray[np.float64]) -> NDArray[np.float64]:
    return _WIDE + _DRIFT * cycles


def _whole(turns: NDArray[np.float64], cycles: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Which peaks lie at a whole multiple of each number of turns (n, 1): (n, peaks)."""
    whole: NDArray[np.bool_] = np.abs(cycles - turns * np.rint(cycles / turns)) < _tolerance(cycles)
    return whole


def _near(
    wanted: NDArray[np.float64],
    cycles: NDArray[np.float64],
    tolerance: NDArray[np.float64],
    weights: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Weight of the heaviest peak at each wanted place."""
    found: NDArray[np.float64] = np.where(np.abs(cycles - wanted) < tolerance, weights, 0.0).max(axis=1)
    return found


def _refined(
    spectrum: NDArray[np.complex128],
    samples: int,
    above: NDArray[np.float64],
    turns: float,
    orders: Orders,
    rival: float | None,
) -> Turning | None:
    """The turns from all lines of the bars that stand out, each with the weight of its own uncertainty."""
    lines = []
    for order, side in orders.own:
        middle = round(order * turns + side)
        if not 2 <= middle < above.shape[0] - 3:
            continue
        peak = middle - 2 + int(above[middle - 2 : middle + 3].argmax())
        if above[peak] > STANDS_OUT:
            line = fit_line(spectrum, samples, float(near_line(above, np.array([peak]))[0]))
            if line is not None and line.standard > 0.0 and not _is_harmonic(line.cycles, orders.supply):
                lines.append((order, side, line))
    if not lines:
        return None
    shares = [(order / line.standard) ** 2 for order, _, line in lines]
    told = [(line.cycles - side) / order for order, side, line in lines]
    mean = sum(share * one for share, one in zip(shares, told, strict=True)) / sum(shares)
    apart = sum(share * (one - mean) ** 2 for share, one in zip(shares, told, strict=True)) / max(len(lines) - 1, 1)
    standard = sqrt(max(apart, 1.0) / sum(shares))  # lines that differ by more than their noise say so
    strongest = max(lines, key=lambda each: each[2].rms)[2]
    return Turning(mean, standard, float(sum(line.dof for *_, line in lines)), strongest, rival)
