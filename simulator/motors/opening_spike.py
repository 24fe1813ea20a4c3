"""What a start contact that chops adds to the channel across it: a short ring when it opens.

    u = min(i_chop sqrt(L / C), 400 V) exp(-t / 0.3 ms) sin(2 pi f t + angle)
    f = 1 / (2 pi sqrt(L C)) within 1 to 20 kHz

The domain knows 1 to 20 kHz, a few hundred volts (the arc clamps it), 0.1 to 1 ms, from memory; C is a stray
capacitance, 5 nF assumed, L the auxiliary's leakage. Each opening chops between half and all of `contact_chops_a`. The
equations part their contacts at a zero of current: this is an addition, and its energy is in no balance.
"""

from collections.abc import Mapping
from math import pi, sqrt

import numpy as np
from numpy.typing import NDArray

from simulator.motors.motor import Trace

CAPACITOR_V, START_CLOSED = 1, 0  # a signal, a truth
STRAY_F, CLAMP_V, DECAY_S, SLOWEST_HZ, FASTEST_HZ = 5e-9, 400.0, 3e-4, 1e3, 2e4
HEARD_S = 10 * DECAY_S


class OpeningSpike:
    """Disturbance of one motor at one sample rate; `random` is its alone."""

    def __init__(self, rate_hz: float, random: np.random.Generator, *, henry: float) -> None:
        self._rate_hz, self._random = rate_hz, random
        self._ohm = sqrt(henry / STRAY_F)
        self._hz = float(np.clip(1 / (2 * pi * sqrt(henry * STRAY_F)), SLOWEST_HZ, FASTEST_HZ))
        self._closed, self._since_s, self._peak_v, self._angle = 0.0, np.inf, 0.0, 0.0

    def add(self, trace: Trace, controls: Mapping[str, float]) -> NDArray[np.float64]:
        """`trace.values` with the rings of the openings in this stretch, and what is left of an earlier one."""
        closed = trace.truths[START_CLOSED]
        opened = np.flatnonzero((np.concatenate([[self._closed], closed[:-1]]) > 0) & (closed == 0))
        self._closed = float(closed[-1]) if closed.size else self._closed
        chops_a = controls["contact_chops_a"]
        if not np.isfinite(self._since_s) and (chops_a == 0 or opened.size == 0):
            return trace.values
        values = trace.values.copy()
        first = 0
        for place in (*(opened if chops_a > 0 else ()), closed.size):
            self._ring(values[CAPACITOR_V, first:place])
            if place < closed.size:
                share, self._angle = self._random.uniform(0.5, 1), self._random.uniform(0, 2 * pi)
                self._peak_v, self._since_s = min(chops_a * share * self._ohm, CLAMP_V), 0.0
            first = int(place)
        return values

    def _ring(self, volts: NDArray[np.float64]) -> None:
        """Add to `volts` what rings in these samples."""
        if not np.isfinite(self._since_s):
            return
        t = self._since_s + np.arange(volts.size) / self._rate_hz
        volts += self._peak_v * np.exp(-t / DECAY_S) * np.sin(2 * pi * self._hz * t + self._angle)
        self._since_s += volts.size / self._rate_hz
        if self._since_s > HEARD_S:
            self._since_s = np.inf
