"""What sliding contacts add to the channels of a commutator motor: noise of the brushes, arcs, a bad bar's sparks.

    u_n  white noise behind a low-pass of 2 kHz, 20 mV RMS with new brushes, 0.5 V with worn ones,
         times tanh(|i| / I_rated)
    arcs come by chance, c n/60 q a second (q 0.001 new, 0.2 worn), and once a turn with the bad bar's chance, each
         U exp(-t / 50 us), U from 5 V up to 8 V (new) or 20 V (worn)
    L di_n/dt = -u_n - u_arc - R i_n;   terminals: 5 % of u_n + u_arc (assumed: what the leads' inductance lets through)

The ripple of the commutator is in the equations of the motors, not here. Nothing is added where no current flows. It
draws a fixed number of random numbers a sample, so stretches of any length follow one another alike.
"""

from collections.abc import Mapping
from math import exp, pi, sqrt
from typing import Any

import numpy as np
from numpy.typing import NDArray

from simulator.motors.motor import Trace
from simulator.physics.stepping import compiled

TERMINAL_V, MOTOR_A, SUPPLY_A = 0, 1, 3
NOISE_HZ, NEW_V, WORN_V = 2000.0, 0.02, 0.5
ARC_S, ARC_LOW_V, ARC_NEW_V, ARC_WORN_V = 50e-6, 5.0, 8.0, 20.0
ARCS_NEW, ARCS_WORN = 0.001, 0.2
TERMINAL_SHARE = 0.05


@compiled
def _passed(white: Any, arcs: Any, size: Any, keep: Any, memory: Any, out_v: Any, out_a: Any) -> None:
    """Noise, arcs and the current that they drive, sample by sample; `memory` (3,) goes on from call to call.

    `keep` (4,): what a sample leaves of low-passed noise, of an arc and of the current, and 1/R.
    """
    noise, arc, current = memory[0], memory[1], memory[2]
    gain = sqrt(1.0 - keep[0] * keep[0])
    for n in range(len(white)):
        noise = keep[0] * noise + gain * white[n]
        arc = keep[1] * arc + arcs[n]
        out_v[n] = size[n] * noise + arc if size[n] > 0.0 else 0.0
        current = keep[2] * current - (1.0 - keep[2]) * keep[3] * out_v[n]
        out_a[n] = current if size[n] > 0.0 else 0.0
    memory[0], memory[1], memory[2] = noise, arc, current


class Brushes:
    """Disturbance of one motor at one sample rate; `random` is its alone."""

    def __init__(
        self,
        rate_hz: float,
        random: np.random.Generator,
        *,
        ohm: float,
        henry: float,
        rated_a: float,
        ripples_per_turn: int,
        supply_a: int | None = SUPPLY_A,
    ) -> None:
        self._rate_hz, self._rated_a, self._ripples, self._supply_a = rate_hz, rated_a, ripples_per_turn, supply_a
        self._white, self._chance = random.spawn(2)
        corners = [2 * pi * NOISE_HZ, 1 / ARC_S, ohm / henry]
        self._keep = np.array([*(exp(-corner / rate_hz) for corner in corners), 1 / ohm])
        self._memory = np.zeros(3)

    def add(self, trace: Trace, controls: Mapping[str, float]) -> NDArray[np.float64]:
        """`trace.values` with brush noise and arcs; terminal voltage, motor current and what the supply sees of it."""
        values, wear = trace.values.copy(), controls["brush_wear"]
        current = values[MOTOR_A]
        size = (NEW_V + (WORN_V - NEW_V) * wear) * np.tanh(np.abs(current) / self._rated_a)
        arcs = self._arcs(trace, wear, controls["bad_bar"])
        noise_v, noise_a = np.empty_like(current), np.empty_like(current)
        _passed(self._white.standard_normal(len(current)), arcs, size, self._keep, self._memory, noise_v, noise_a)
        values[TERMINAL_V] += TERMINAL_SHARE * noise_v
        if self._supply_a is not None:
            same = np.abs(values[self._supply_a]) == np.abs(current)  # not through a capacitor
            values[self._supply_a] += np.where(same, noise_a * np.sign(current * values[self._supply_a]), 0.0)
        values[MOTOR_A] += noise_a
        return values

    def _arcs(self, trace: Trace, wear: float, bad_bar: float) -> NDArray[np.float64]:
        """Voltage at the moment that an arc begins; 0 in samples without."""
        drawn = self._chance.random((trace.speed_rad_s.size, 3))
        bars_s = np.abs(trace.speed_rad_s) / (2 * pi) * self._ripples
        by_chance = drawn[:, 0] < bars_s * (ARCS_NEW + (ARCS_WORN - ARCS_NEW) * wear) / self._rate_hz
        turns = trace.angle_rad / (2 * pi)
        before = turns - trace.speed_rad_s / (2 * pi * self._rate_hz)
        of_bar = (np.floor(turns) != np.floor(before)) & (drawn[:, 1] < bad_bar)
        highest_v = ARC_NEW_V + (ARC_WORN_V - ARC_NEW_V) * max(wear, bad_bar)
        level_v = ARC_LOW_V + (highest_v - ARC_LOW_V) * drawn[:, 2]
        return np.where(by_chance | of_bar, level_v, 0.0)
