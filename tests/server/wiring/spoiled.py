"""Edges of three Hall lines with a fault on them: each as it works on levels, written anew for the tests."""

import numpy as np
from numpy.typing import NDArray

from tests.server.wiring.shaft import TICK_HZ, Edges

Ticks = NDArray[np.int64]
Line = tuple[Ticks, int]  # changes of one line, its level at first


def lines(edges: Edges) -> list[Line]:
    """The three lines apart."""
    was = np.concatenate(([edges.before], edges.states[:-1]))
    return [(edges.ticks[((was ^ edges.states) >> k & 1) == 1], edges.before >> k & 1) for k in range(3)]


def together(three: list[Line]) -> Edges:
    """Edges of three lines; changes at the same tick are one."""
    when = np.concatenate([ticks for ticks, _ in three])
    what = np.concatenate([np.full(ticks.size, 1 << k) for k, (ticks, _) in enumerate(three)])
    order = np.argsort(when, kind="stable")
    before = sum(level << k for k, (_, level) in enumerate(three))
    if not when.size:
        return Edges(np.zeros(0, np.int64), np.zeros(0, np.int64), before)
    states = np.bitwise_xor.accumulate(np.concatenate(([before], what[order])))[1:]
    ticks = when[order]
    last = np.append(ticks[1:] != ticks[:-1], True)
    ticks, states = ticks[last], states[last]
    changed = np.diff(states, prepend=before) != 0
    return Edges(ticks[changed], states[changed].astype(np.int64), before)


def levels(line: Line, at: Ticks) -> NDArray[np.int64]:
    """Of one line at these ticks, after changes there."""
    return np.asarray((line[1] + np.searchsorted(line[0], at, side="right")) % 2)


def _of_levels(at: Ticks, level: NDArray[np.int64], first: int) -> Line:
    changed = np.diff(level, prepend=first) != 0
    return at[changed], first


def stuck(edges: Edges, place: int, level: int) -> Edges:
    """One line at one level."""
    three = lines(edges)
    three[place] = (np.zeros(0, np.int64), level)
    return together(three)


def joined(edges: Edges, one: int, other: int, high_wins: bool) -> Edges:
    """Two lines on one wire: open collectors (low wins) or outputs where high wins."""
    three = lines(edges)
    at = np.unique(np.concatenate((three[one][0], three[other][0])))
    a, b = levels(three[one], at), levels(three[other], at)
    first = (three[one][1] | three[other][1]) if high_wins else (three[one][1] & three[other][1])
    three[one] = three[other] = _of_levels(at, (a | b) if high_wins else (a & b), first)
    return together(three)


def dead(edges: Edges, level: int) -> Edges:
    """No supply: all lines at one level."""
    return together([(np.zeros(0, np.int64), level)] * 3)


def floating(edges: Edges, places: tuple[int, ...], seconds: float, rng: np.random.Generator) -> Edges:
    """No pull-up: where the sensor lets the line go, hum of 50 Hz and noise cross the threshold."""
    three = lines(edges)
    at = np.arange(0, round(seconds * TICK_HZ), 15, dtype=np.int64)
    for place in places:
        hum = 0.6 * np.sin(2 * np.pi * 50 * at / TICK_HZ + rng.uniform(0, 6)) + rng.normal(0.0, 0.5, at.size)
        level = levels(three[place], at) & (hum > 0.0)
        three[place] = _of_levels(at, level, int(level[0]))
    return together(three)


def broken(edges: Edges, place: int, seconds: float, rng: np.random.Generator) -> Edges:
    """A wire that breaks in bursts of 10 to 50 ms, 2 to 8 a second, open and closed 0.6 ms; open reads the pull-up."""
    three = lines(edges)
    opens = _bursts(seconds, rng)
    at = np.unique(np.concatenate((three[place][0], opens)))
    level = levels(three[place], at) | levels((opens, 0), at)
    three[place] = _of_levels(at, level, three[place][1])
    return together(three)


def loose_supply(edges: Edges, seconds: float, rng: np.random.Generator) -> Edges:
    """The sensors' supply breaks in bursts: all lines go to their pull-ups."""
    opens = _bursts(seconds, rng)
    three = []
    for line in lines(edges):
        at = np.unique(np.concatenate((line[0], opens)))
        three.append(_of_levels(at, levels(line, at) | levels((opens, 0), at), line[1]))
    return together(three)


def _bursts(seconds: float, rng: np.random.Generator) -> Ticks:
    """Ticks at which a contact opens and closes."""
    found, at, rate = [], 0.0, rng.uniform(2.0, 8.0)
    while True:
        at += rng.exponential(1.0 / rate)
        end = at + rng.uniform(0.010, 0.050)
        if end > seconds:
            break
        flips = at + np.cumsum(np.maximum(rng.exponential(0.0006, 400), 3e-6))
        flips = flips[flips < end]
        found.append(flips[: flips.size // 2 * 2])
        at = end
    return (np.concatenate(found) * TICK_HZ).astype(np.int64) if found else np.zeros(0, np.int64)


def pulses(edges: Edges, rate_hz: float, seconds: float, rng: np.random.Generator) -> tuple[Edges, int]:
    """Pulses of 5 to 60 us on any line; and how many."""
    three = lines(edges)
    count = int(rng.poisson(rate_hz * seconds))
    begin = np.sort(rng.uniform(0.0, seconds - 0.001, count))
    on = rng.integers(0, 3, count)
    for place in range(3):
        its = np.unique((begin[on == place] * TICK_HZ).astype(np.int64))
        its = np.concatenate((its, its + rng.integers(5, 61, its.size)))
        three[place] = (np.sort(np.concatenate((three[place][0], its))), three[place][1])
    return together(three), count


def bouncing(edges: Edges, place: int, rng: np.random.Generator) -> Edges:
    """Each change of one line comes with one to three returns within 2 ms."""
    three = lines(edges)
    more = [three[place][0]]
    for tick in three[place][0]:
        gaps = rng.integers(150, 300, 2 * int(rng.integers(1, 4)))
        more.append(tick + np.cumsum(gaps))
    three[place] = (np.sort(np.concatenate(more)), three[place][1])
    return together(three)


def sampled(edges: Edges, every_ticks: int) -> Edges:
    """As a board sees it that looks at the levels once a sample."""
    at = -(-edges.ticks // every_ticks) * every_ticks
    last = np.append(at[1:] != at[:-1], True)
    ticks, states = at[last], edges.states[last]
    changed = np.diff(states, prepend=edges.before) != 0
    return Edges(ticks[changed], states[changed], edges.before)
