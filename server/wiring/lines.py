"""What each of three Hall lines did: changes, states that were left and came back, whole turns of two lines. Pure."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from server.hall.tail import Tail, glitches
from server.wiring.arrangement import STATES
from server.wiring.course import ODD
from server.wiring.visits import Visits

TREMBLE_S = 0.020  # a state that lasts longer before it is left again is a shaft that turned back by hand (ours)
_SHORT_S, _SHORT_SHARE = 200e-6, 0.1
_QUARTERS = np.array([0, 1, 3, 2])  # two lines a quarter or a third of a turn apart: their levels' place in a turn
SINGLE = np.array([-1, 0, 1, -1, 2, -1, -1, -1])  # the input that changed alone, by the bits that changed
Bools = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Lines:
    """By visit (n,): `flipped`, the bits that changed as it began; `single`, the input that changed alone, -1 where
    none did or several; `back`: it was left for the state before it; `lasted_s`."""

    flipped: NDArray[np.int64]
    single: NDArray[np.int64]
    back: Bools
    lasted_s: NDArray[np.float64]

    def toggles(self, place: int) -> int:
        """Changes of one line."""
        return int(np.count_nonzero(self.flipped >> place & 1))

    @property
    def stays(self) -> Bools:
        """Not one of pulses that meet, or that meet an edge: too short for a state, and much shorter than near by."""
        beside = np.max([np.roll(self.lasted_s, shift) for shift in (-2, -1, 1, 2)], axis=0)
        longer: Bools = (self.lasted_s >= _SHORT_S) | (self.lasted_s > _SHORT_SHARE * beside)
        return longer

    @property
    def trembles(self) -> Bools:
        """Left and back within TREMBLE_S, one return counted once."""
        quick = self.back & (self.lasted_s < TREMBLE_S)
        index = np.arange(quick.shape[0])
        begins = np.maximum.accumulate(np.where(quick, -1, index))  # the last visit before the row of returns
        firsts: Bools = quick & ((index - begins) % 2 == 1)
        return firsts


def lines_of(visits: Visits, tick_hz: float) -> Lines:
    """What the visits say of the lines."""
    flipped = np.where(visits.before >= 0, visits.before ^ visits.state, 0)
    lasted_s = (visits.end_tick - visits.begin_tick) / tick_hz
    back = (visits.before == visits.after) & (visits.before >= 0)
    return Lines(flipped, SINGLE[flipped], back, lasted_s)


def state_s(visits: Visits, tick_hz: float) -> NDArray[np.float64]:
    """Time in each state: (8,)."""
    return np.bincount(visits.state, (visits.end_tick - visits.begin_tick) / tick_hz, STATES).astype(np.float64)


def odd_by_time(visits: Visits, tick_hz: float) -> int:
    """Of the input that reads the other way round, by the two states in which least time was spent."""
    time = state_s(visits, tick_hz)
    return ODD[int(np.argmin(time[:4] + time[:3:-1]))]


def turns_of_two(visits: Visits, one: int, other: int) -> float:
    """Electrical turns that two lines went through, net, without sign."""
    states = np.concatenate((visits.before[:1], visits.state, visits.after[-1:])) if visits.count else visits.state
    states = states[states >= 0]
    quarters = _QUARTERS[(states >> one & 1) | (states >> other & 1) << 1]
    steps = (np.diff(quarters) + 1) % 4 - 1  # 2: both at once, no way to tell which way
    return abs(int(steps[steps != 2].sum())) / 4.0


@dataclass(frozen=True, slots=True)
class Pulses:
    """Short pulses that are no edges: how many of each line (3,), the longest, and how many changed several at once."""

    of_lines: tuple[int, int, int]
    count: int
    longest_s: float
    several: int


def pulses_of(edges: Tail, visits: Visits, lines: Lines, tick_hz: float, end_tick: int) -> Pulses:
    """Pairs of opposite edges that are too close to be turns of a shaft, but for those within TREMBLE_S of a
    visit in which a line trembled."""
    out = np.flatnonzero(glitches(edges.ticks, edges.states, edges.before, tick_hz, end_tick, edges.look_ticks))[::2]
    out = out[out + 1 < edges.ticks.shape[0]]
    restless, around = visits.begin_tick[lines.trembles], TREMBLE_S * tick_hz
    none_before = restless.searchsorted(edges.ticks[out] - around) == restless.searchsorted(edges.ticks[out] + around)
    out = out[none_before]
    was = np.concatenate(([-1 if edges.before is None else edges.before], edges.states[:-1]))
    flipped = (was[out] ^ edges.states[out]) & (STATES - 1)
    a, b, c = (int(np.count_nonzero(flipped >> bit & 1)) for bit in range(3))
    longest = float(np.max(edges.ticks[out + 1] - edges.ticks[out], initial=0.0)) / tick_hz
    return Pulses((a, b, c), int(out.size), longest, int(np.count_nonzero(SINGLE[flipped] < 0)))
