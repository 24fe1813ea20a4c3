"""The last edges before a moment, glitches taken out: what all speed and order readings start from.

A reading must not depend on how many older edges a train happens to hold, so everything here looks back over a
bounded number of edges from the moment asked for. Knows no clock: time is ticks.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from server.samples import EdgeTrain

GLITCH_S_MAX = 100e-6  # common practice: longer than ringing on a cable, shorter than a sector of any motor on a bench
_PART = 4
_GLITCH_SHARE = 0.1  # and at most a tenth of the time between the edges round it
SETTLED_S = 1.1 * GLITCH_S_MAX / _GLITCH_SHARE


@dataclass(frozen=True, slots=True)
class Tail:
    """Edges up to a moment: `ticks` and the `states` after each, (n,); `before` is the state before the first.

    `first_tick`: what happened before it cannot change anything here. `glitches`: edges left out. `look_ticks`: an edge
    lies anywhere in so many ticks up to its own.
    """

    ticks: NDArray[np.int64]
    states: NDArray[np.int64]
    before: int | None
    first_tick: int
    glitches: int
    look_ticks: int = 1

    @property
    def count(self) -> int:
        return int(self.ticks.shape[0])

    def since(self, index: int) -> int:
        """Tick of the first of all edges that had a part in the edge at `index`.

        Two edges say that it is no glitch. Of these, the first after lost ones may be no change and so not be there,
        or the rest of a glitch; so two more, _PART in all.
        """
        return int(self.ticks[index - _PART]) if index >= _PART else self.first_tick

    def sinces(self, index: NDArray[np.int64]) -> NDArray[np.int64]:
        """The same for many edges."""
        if not self.ticks.size:
            return np.full(index.shape, self.first_tick)
        return np.where(index >= _PART, self.ticks[np.maximum(index - _PART, 0)], self.first_tick)


def tail_of(train: EdgeTrain, bits: tuple[int, ...], first_tick: int, end_tick: int, more: int) -> Tail:
    """Edges of the inputs at `bits` in (first_tick, end_tick] and `more` before them, older ones cut off.

    States are made of those inputs alone, the first of `bits` least significant; changes of other inputs vanish.
    """
    stop = int(train.ticks.searchsorted(end_tick, side="right"))
    start = max(0, int(train.ticks.searchsorted(first_tick, side="right")) - more - 2)
    reaches = train.known_from_tick if start == 0 else int(train.ticks[start - 1])
    ticks, states, was = _changes(train, bits, start, stop)
    look_ticks = train.look_ticks
    keep = ~glitches(ticks, states, was, train.tick_hz, end_tick, look_ticks)
    since = max(reaches, train.known_from_tick)
    return Tail(ticks[keep], states[keep], was, since, int((~keep).sum()), look_ticks)


def all_edges(train: EdgeTrain, bits: tuple[int, ...], first_tick: int, end_tick: int) -> Tail:
    """Every edge of these inputs in (first_tick, end_tick], glitches too."""
    start, stop = train.ticks.searchsorted((first_tick, end_tick), side="right").tolist()
    ticks, states, was = _changes(train, bits, start, stop)
    return Tail(ticks, states, was, max(first_tick, train.known_from_tick), 0, train.look_ticks)


def _changes(
    train: EdgeTrain, bits: tuple[int, ...], start: int, stop: int
) -> tuple[NDArray[np.int64], NDArray[np.int64], int | None]:
    """Ticks and states of these inputs alone in edges start..stop, and the state before them."""
    before = train.before if start == 0 else int(train.states[start - 1])
    states = np.zeros(stop - start, dtype=np.int64)
    raw = train.states[start:stop].astype(np.int64)
    for place, bit in enumerate(bits):
        states |= (raw >> bit & 1) << place
    was = None if before is None else sum((before >> bit & 1) << place for place, bit in enumerate(bits))
    changed = np.diff(states, prepend=-1 if was is None else was) != 0
    return train.ticks[start:stop][changed], states[changed], was


def glitches(
    ticks: NDArray[np.int64],
    states: NDArray[np.int64],
    before: int | None,
    tick_hz: float,
    end_tick: int,
    look_ticks: int = 1,
) -> NDArray[np.bool_]:
    """Pairs of opposite edges on one input, closer than GLITCH_S_MAX and than a tenth of the time round them.

    Of an input that is only looked at a pair may have been a look longer than it seems, and that must be short too.
    No edge follows the last one before `end_tick`, so a pair is settled from SETTLED_S after it on.
    """
    out = np.zeros(ticks.shape[0], dtype=np.bool_)
    if ticks.shape[0] < 2:
        return out
    gaps = np.diff(ticks) + (look_ticks - 1)
    came_from = np.concatenate(([-1 if before is None else before], states[:-2]))
    candidates = np.flatnonzero((came_from == states[1:]) & (gaps < GLITCH_S_MAX * tick_hz))
    for k in candidates:
        if out[k]:
            continue
        since = ticks[k - 1] if k else ticks[k] - (ticks[-1] - ticks[0])
        until = ticks[k + 2] if k + 2 < ticks.shape[0] else max(ticks[k + 1] + (ticks[k] - since), end_tick)
        if gaps[k] < _GLITCH_SHARE * (until - since):
            out[k] = out[k + 1] = True
    return out


def doubt_in(train: EdgeTrain, first_tick: int, end_tick: int) -> bool:
    """Could an edge between these ticks be missing?"""
    lost = any(start <= end_tick and stop >= first_tick for start, stop in train.uncertain)
    return lost or train.known_to_tick < end_tick
