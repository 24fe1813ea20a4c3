"""Voltages between the leads and levels of the Hall inputs, averaged over the electrical angle of the leads. Pure.

Angle 0 is where the voltage of lead U crosses zero upwards, and angles grow in the direction in which the leads come in
the order U, V, W: it is a place of the rotor, the same whichever way it is turned. Turned the other way the angle falls
in time and the voltages are told with the other sign, as that place would give them in the first direction. The angle
is that of the leads' own voltage vector, so a hand may turn as unevenly as it likes, and Hall inputs of any fault are
seen as they are.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from server.hall.table import DRIVEN
from server.hall.tail import Tail
from server.wiring.leads import Leads

BINS = 72
BIN_DEG = 360.0 / BINS
_CELL_DEG = 60.0  # the speed is that of such a part of a turn
_CLEAR = 2.0  # times `least_v`
PAIRS = ((0, 2), (1, 0), (2, 1))  # UW, VU, WV: what Halls A, B, C of a right wiring follow
RIGHT_RISE_DEG = (30.0, 150.0, 270.0)  # of A, B, C, where the drive's forward is that of the leads


@dataclass(slots=True)
class Around:
    """One sense of turning. Sums over samples: `count` (BINS,), `volts_s` (3, BINS) of the pairs over degrees a second,
    `levels` (3, BINS) of A, B, C; `turned_deg` in `lasted_s`; `leads_ahead`: how often U led V led W, less the rest."""

    count: NDArray[np.float64] = field(default_factory=lambda: np.zeros(BINS))
    volts_s: NDArray[np.float64] = field(default_factory=lambda: np.zeros((3, BINS)))
    levels: NDArray[np.float64] = field(default_factory=lambda: np.zeros((3, BINS)))
    turned_deg: float = 0.0
    lasted_s: float = 0.0
    leads_ahead: float = 0.0

    def take(self, leads: Leads, edges: Tail, tick_hz: float) -> None:
        """One more window, in which the shaft went one way; other windows add nothing. `edges` may begin earlier."""
        angle, sense = _angle(leads)
        if sense == 0:
            return
        crossed = _cells(angle)
        if crossed.size < 2:
            return
        first, last = int(np.ceil(crossed[0])), int(np.floor(crossed[-1])) + 1
        step_s = leads.ticks_per_sample / tick_hz
        at = np.arange(first, last)
        speed = _speed(crossed, at) * _CELL_DEG / step_s
        if edges.before is None and (not edges.ticks.size or edges.ticks[0] > leads.first_tick):
            return  # levels are not known yet
        states = _states(edges, np.asarray(leads.first_tick + at * leads.ticks_per_sample, dtype=np.float64))
        bins = np.floor(sense * angle[at] % 360.0 / BIN_DEG).astype(np.int64) % BINS
        self.count += np.bincount(bins, minlength=BINS)
        for k, (plus, minus) in enumerate(PAIRS):
            between = sense * (leads.volts[plus, at] - leads.volts[minus, at]) / speed
            self.volts_s[k] += np.bincount(bins, between, BINS)
            self.levels[k] += np.bincount(bins, states >> k & 1, BINS)
        self.turned_deg += float(angle[last - 1] - angle[first])
        self.lasted_s += (last - 1 - first) * step_s
        self.leads_ahead += sense * at.size

    def add(self, other: "Around") -> None:
        """What another window of the same sense brought."""
        self.count += other.count
        self.volts_s += other.volts_s
        self.levels += other.levels
        self.turned_deg += other.turned_deg
        self.lasted_s += other.lasted_s
        self.leads_ahead += other.leads_ahead

    @property
    def sense(self) -> int:
        """+1: U leads V leads W in the direction turned; -1 the other way; 0 not known."""
        return int(np.sign(self.leads_ahead))

    @property
    def turns(self) -> float:
        """Electrical turns that are in it."""
        return self.turned_deg / 360.0

    @property
    def turns_hz(self) -> float:
        """Mean electrical turns a second."""
        return self.turns / self.lasted_s if self.lasted_s else 0.0

    @property
    def complete(self) -> bool:
        """Every part of a turn was seen."""
        return bool((self.count > 0).all())

    def volts(self) -> NDArray[np.float64]:
        """(3, BINS): UW, VU, WV at the mean speed, in V; NaN where nothing was seen."""
        with np.errstate(invalid="ignore", divide="ignore"):
            mean: NDArray[np.float64] = self.volts_s / self.count
        return mean * 360.0 * self.turns_hz

    def shares(self) -> NDArray[np.float64]:
        """(3, BINS): how much of the time A, B, C were high; NaN where nothing was seen."""
        with np.errstate(invalid="ignore", divide="ignore"):
            return np.asarray(self.levels / self.count, dtype=np.float64)


def right_rise_deg(sense: int, ahead: bool) -> tuple[float, float, float]:
    """Where A, B and C rise of a wiring that runs the way it was turned (`ahead`), or the other way."""
    a, b, c = RIGHT_RISE_DEG
    off = 0.0 if (sense > 0) == ahead else 180.0
    return (a + off) % 360.0, (b + off) % 360.0, (c + off) % 360.0


def right_states(sense: int, ahead: bool) -> tuple[int, ...]:
    """Of the six sixths of a turn from 30 degrees on: the state that a right wiring has in each."""
    rise = right_rise_deg(sense, ahead)
    return tuple(
        sum(((60.0 * k + 60.0 - rise_deg) % 360.0 < 180.0) << bit for bit, rise_deg in enumerate(rise))
        for k in range(len(DRIVEN))
    )


def rises_deg(shares: NDArray[np.float64]) -> list[float | None]:
    """Of A, B and C: where each rises, from the place of both of its edges; None where it has not just two.

    `shares` (3, BINS) as `Around.shares`.
    """
    return [_rise(each) for each in shares]


def late_deg(rise_deg: float, right_deg: float, sense: int) -> float:
    """By how much an input comes too late in the direction turned, -180 to 180."""
    return sense * ((rise_deg - right_deg + 180.0) % 360.0 - 180.0)


def edges_deg(share: NDArray[np.float64]) -> list[tuple[float, bool]]:
    """Where one input passes between low and high, by angle, and whether it rises there. `share` (BINS,)."""
    if not np.isfinite(share).all():
        return []
    after = np.roll(share, -1)
    at = np.flatnonzero((share < 0.5) != (after < 0.5))
    return sorted((_crossing(share, after, int(k)) % 360.0, bool(share[k] < 0.5)) for k in at)


def _rise(share: NDArray[np.float64]) -> float | None:
    edges = edges_deg(share)
    if len(edges) != 2:
        return None
    rise, fall = (next(deg for deg, up in edges if up is wanted) for wanted in (True, False))
    middle = (fall - rise) % 360.0 / 2.0  # of the high part: a quarter of a turn lies before and behind
    return (rise + middle - 90.0) % 360.0


def _crossing(share: NDArray[np.float64], after: NDArray[np.float64], k: int) -> float:
    """Where the share passes one half between the middles of two bins."""
    part = (0.5 - share[k]) / (after[k] - share[k])
    return float((k + 0.5 + part) * BIN_DEG)


def _angle(leads: Leads) -> tuple[NDArray[np.float64], int]:
    """Angle at each sample times the sense of the leads: growing in time; and that sense, 0 where the window is no turn
    one way."""
    if leads.count < 8 or not bool((leads.spread >= _CLEAR * leads.least_v).all()):
        return np.zeros(0), 0
    u, v, w = leads.volts
    vector = np.degrees(np.unwrap(np.arctan2((v - w) / 3.0**0.5, (2.0 * u - v - w) / 3.0)))
    went = float(vector[-1] - vector[0])
    sense = int(np.sign(went))
    if abs(went) < 2.0 * _CELL_DEG:
        return vector, 0
    angle = 90.0 + sense * vector
    back = np.maximum.accumulate(angle) - angle
    return (angle, sense) if float(back.max()) < _CELL_DEG / 4.0 else (angle, 0)


def _cells(angle: NDArray[np.float64]) -> NDArray[np.float64]:
    """The samples, with parts of one, at which the angle passes whole cells."""
    rising = np.maximum.accumulate(angle)
    whole = np.arange(np.ceil(rising[0] / _CELL_DEG), np.floor(rising[-1] / _CELL_DEG) + 1.0) * _CELL_DEG
    return np.asarray(np.interp(whole, rising, np.arange(rising.size)), dtype=np.float64)


def _speed(crossed: NDArray[np.float64], at: NDArray[np.int64]) -> NDArray[np.float64]:
    """Cells a sample at each sample: even within a cell and steady between the middles of cells."""
    middles = (crossed[1:] + crossed[:-1]) / 2.0
    return np.asarray(np.interp(at, middles, 1.0 / np.maximum(np.diff(crossed), 1e-9)), dtype=np.float64)


def _states(edges: Tail, ticks: NDArray[np.float64]) -> NDArray[np.int64]:
    states = np.concatenate(([edges.before if edges.before is not None else 0], edges.states))
    return np.asarray(states[np.searchsorted(edges.ticks, ticks, side="right")], dtype=np.int64)
