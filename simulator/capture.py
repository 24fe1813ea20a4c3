"""What a board makes of the edges of its inputs, where that is less than each edge with its own time.

Some are missed, some come doubled (the input goes back and forth once more), or the inputs are only looked at now and
then and a change is stamped with the look that found it. The drive behind the same lines knows nothing of it.
"""

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from simulator.physics.control import Control

LOOKED = "inputs_looked_us"
CAPTURE_CONTROLS = (
    Control("edges_missed", 0, 0, 1, "share of the edges that the board misses"),
    Control("edges_doubled", 0, 0, 1, "share of the edges that come doubled: back and forth once more"),
    Control(LOOKED, 0, 0, 100_000, "time between two looks at the inputs; 0: each edge has its own time"),
)
BACK_S = (20e-6, 150e-6)


class Capture:
    """The capture unit of one board. `level` is what its inputs read at first; `second_s`: true length of a second of
    the board's clock, by which it looks."""

    def __init__(self, seed: int, level: int, second_s: float = 1.0) -> None:
        self._us_s = 1e-6 * second_s
        self._draw = np.random.default_rng((seed, 102))
        self._wire, self._told = level, level
        self._waiting_s, self._waiting = np.zeros(0), np.zeros(0, np.uint8)

    def seen(
        self, times_s: NDArray[np.float64], states: NDArray[np.uint8], end_s: float, controls: Mapping[str, float]
    ) -> tuple[NDArray[np.float64], NDArray[np.uint8]]:
        """Edges as the board tells them, of a stretch up to `end_s` that follows the one before."""
        if controls.get("edges_doubled", 0.0):
            times_s, states = self._doubled(times_s, states, end_s, controls["edges_doubled"])
        self._wire = int(states[-1]) if states.size else self._wire
        if controls.get("edges_missed", 0.0):
            kept = self._draw.random(times_s.size) >= controls["edges_missed"]
            times_s, states = times_s[kept], states[kept]
        look_s = self._us_s * controls.get(LOOKED, 0.0)
        if look_s or self._waiting.size:
            times_s, states = self._looked(times_s, states, end_s, look_s)
        self._told = int(states[-1]) if states.size else self._told
        return times_s, states

    def _doubled(
        self, times_s: NDArray[np.float64], states: NDArray[np.uint8], end_s: float, share: float
    ) -> tuple[NDArray[np.float64], NDArray[np.uint8]]:
        """Each that comes doubled becomes three edges, where there is time for them."""
        before = np.concatenate((np.array([self._wire], np.uint8), states[:-1]))
        steps_s = np.cumsum(self._draw.uniform(*BACK_S, (2, times_s.size)), axis=0)
        until_s = np.append(times_s[1:], end_s)[: times_s.size]
        chosen = (self._draw.random(times_s.size) < share) & (times_s + steps_s[1] < until_s)
        all_s = np.concatenate((times_s, times_s[chosen] + steps_s[0, chosen], times_s[chosen] + steps_s[1, chosen]))
        all_states = np.concatenate((states, before[chosen], states[chosen]))
        order = np.argsort(all_s, kind="stable")
        return all_s[order], all_states[order]

    def _looked(
        self, times_s: NDArray[np.float64], states: NDArray[np.uint8], end_s: float, look_s: float
    ) -> tuple[NDArray[np.float64], NDArray[np.uint8]]:
        """Only what a look finds: the last state before it, where that is another than the look before found."""
        looks_s = look_s * np.ceil(times_s / look_s) if look_s else times_s
        times_s = np.concatenate((self._waiting_s, looks_s))
        states = np.concatenate((self._waiting, states))
        due = times_s < end_s if look_s else np.ones(times_s.size, bool)
        self._waiting_s, self._waiting = times_s[~due], states[~due]
        times_s, states = times_s[due], states[due]
        last = np.append(times_s[1:] != times_s[:-1], True)[: times_s.size]
        times_s, states = times_s[last], states[last]
        before = np.concatenate((np.array([self._told], np.uint8), states))[:-1]
        return times_s[states != before], states[states != before]
