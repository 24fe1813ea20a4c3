"""From Hall edges to steps, runs of steps in one direction, and the speed after each edge.

The speed over one electrical turn (same edge of the same sensor, six edges apart) is free of where the sensors sit
and how wide the magnets are; fewer edges are used only where there are no six in one direction, or where the speed
rose so fast that an electrical turn is history.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from server.hall.table import sectors, steps_between
from server.hall.tail import Tail

EDGES_PER_TURN = 6  # electrical turn
_SECTORS_PER_MINUTE = 10.0  # one sector in 1 s is 10 r/min, electrical
_FASTER = 1.5  # two sectors against the electrical turn: sensors 15 of 60 degrees off make it 1.33 at most


@dataclass(frozen=True, slots=True)
class Motion:
    """One entry an edge, (n,). `sector` after the edge, held through illegal states (0: none yet); `legal`.

    `step`: sectors moved by the edge; 0 where the state is illegal or nothing legal came before. `run`: edges in
    turn, up to this one, that stepped one sector in its direction. `erpm`: signed electrical turns a minute after
    the edge, NaN where it cannot be said; `used`: the oldest edge that it rests on; `whole`: it rests on a whole
    turn; `again`: on one whose order is not right, so that the direction is not known; `hurried`: on two sectors.
    """

    sector: NDArray[np.int64]
    legal: NDArray[np.bool_]
    step: NDArray[np.int64]
    run: NDArray[np.int64]
    erpm: NDArray[np.float64]
    used: NDArray[np.int64]
    whole: NDArray[np.bool_]
    again: NDArray[np.bool_]
    hurried: NDArray[np.bool_]


def motion_of(tail: Tail, spacing_deg: int, tick_hz: float) -> Motion:
    """What the edges of `tail` mean. Example: 5 1 3 with 120-degree sensors: sectors 1 2 3, steps 0 1 1, runs 0 1 2."""
    table = sectors(spacing_deg)
    raw = table[tail.states]
    legal = raw > 0
    start = 0 if tail.before is None else int(table[tail.before])
    sector = _held(raw, start)
    joined = np.concatenate(([start], sector))
    step = np.where(legal & (joined[:-1] > 0), steps_between(joined), 0)
    run = _runs(step)
    again = _came_again(tail, step)
    erpm, used, hurried = _speeds(tail.ticks / tick_hz, step, run, again)
    return Motion(sector, legal, step, run, erpm, used, again | (run > EDGES_PER_TURN), again, hurried)


def _held(raw: NDArray[np.int64], start: int) -> NDArray[np.int64]:
    """Zeros replaced by the last value before them."""
    last = np.maximum.accumulate(np.where(raw > 0, np.arange(raw.shape[0]), -1))
    held: NDArray[np.int64] = np.where(last >= 0, raw[np.maximum(last, 0)], start)
    return held


def _runs(step: NDArray[np.int64]) -> NDArray[np.int64]:
    """How many single steps in the same direction end here."""
    index = np.arange(step.shape[0])
    single = np.abs(step) == 1
    begins = single & (step != np.concatenate(([0], step[:-1])))
    first = np.maximum.accumulate(np.where(begins, index, 0))
    runs: NDArray[np.int64] = np.where(single, index - first + 1, 0)
    return runs


def _speeds(
    times_s: NDArray[np.float64], step: NDArray[np.int64], run: NDArray[np.int64], again: NDArray[np.bool_]
) -> tuple[NDArray[np.float64], NDArray[np.int64], NDArray[np.bool_]]:
    index = np.arange(step.shape[0])
    intervals = np.where(again, EDGES_PER_TURN, np.clip(run - 1, 1, EDGES_PER_TURN))
    used = np.maximum(index - intervals, 0)
    two = np.maximum(index - 2, 0)
    with np.errstate(divide="ignore", invalid="ignore"):
        erpm = _SECTORS_PER_MINUTE * intervals / (times_s - times_s[used])
        latest = _SECTORS_PER_MINUTE * 2 / (times_s - times_s[two])
    hurried = (run > 3) & (latest > _FASTER * erpm)
    erpm[hurried] = latest[hurried]
    turned_back = (run == 1) & (step == -np.concatenate(([0], step[:-1])))
    erpm[turned_back] = 0.0  # both edges are the same boundary: no way was made between them
    erpm[index == used] = np.nan
    direction = np.where(again, 1, np.sign(step))
    return np.where(direction == 0, np.nan, erpm * direction), used, hurried


def _came_again(tail: Tail, step: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Where a turn is whole although its order is not right: the same edge came six edges before."""
    n = EDGES_PER_TURN
    again = np.zeros(step.shape[0], dtype=np.bool_)
    if step.shape[0] > n + 1:
        same = tail.states[n:] == tail.states[:-n]
        wrong = np.convolve(np.abs(step) != 1, np.ones(n, dtype=np.int64))[n + 1 : step.shape[0]] > 0
        again[n + 1 :] = same[1:] & same[:-1] & wrong
    return again
