"""What comes and goes at random on the lines of three Hall sensors: breaks, short pulses, noise without a pull-up.

All of it is drawn from the state's own counter, by time alone, so that neither the step nor the cut of the samples
changes it. May assume records made by hall_lines.py.
"""

from math import floor, inf, log, pi, sin
from typing import Any

import numpy as np

from simulator.physics.stepping import compiled

BURST_S, OPEN_S = (0.010, 0.050), 0.0006
PULSE_S = (5e-6, 60e-6)
AFTER_EDGE_S, LATEST_S = 5e-6, 2e-3
NOISE_S, HUM_RAD_S = 15e-6, 2 * pi * 50


def begin_anew(lines: Any) -> None:
    """What is random begins as it did at first, from the next look on."""
    lines["random"] = lines["first_random"]
    lines["burst_s"] = lines["pulse_s"] = -1.0
    lines["next_s"], lines["noise_slot"] = inf, -1
    lines["open"] = lines["pulse"] = lines["noise"] = 0


_STEP, _MIX_1, _MIX_2 = np.uint64(0x9E3779B97F4A7C15), np.uint64(0xBF58476D1CE4E5B9), np.uint64(0x94D049BB133111EB)
_30, _27, _31, _11 = np.uint64(30), np.uint64(27), np.uint64(31), np.uint64(11)


@compiled
def _uniform(lines: Any) -> float:
    """Above 0 up to 1: a counter and a mixing of its bits (G. L. Steele and others, 2014)."""
    lines.random += _STEP
    z = lines.random
    z = (z ^ (z >> _30)) * _MIX_1
    z = (z ^ (z >> _27)) * _MIX_2
    z = z ^ (z >> _31)
    return (float(z >> _11) + 1.0) * 2.0**-53


@compiled
def _waiting_s(lines: Any, mean_s: float) -> float:
    return -mean_s * log(_uniform(lines))


@compiled
def _burst(hall: Any, lines: Any, j: int, t: float) -> float:
    """A wire that breaks for moments; returns when it changes next."""
    if lines.burst_s[j] < 0.0:
        lines.burst_s[j], lines.burst_end_s[j] = t + _waiting_s(lines, 1.0 / hall.bursts_hz), t
    if t >= lines.burst_s[j]:
        lines.burst_end_s[j] = t + BURST_S[0] + (BURST_S[1] - BURST_S[0]) * _uniform(lines)
        lines.burst_s[j] = lines.burst_end_s[j] + _waiting_s(lines, 1.0 / hall.bursts_hz)
        lines.flip_s[j] = t
    if t >= lines.burst_end_s[j]:
        lines.open &= ~(1 << j)
        return float(lines.burst_s[j])
    if t >= lines.flip_s[j]:
        lines.open ^= 1 << j
        lines.flip_s[j] = t + _waiting_s(lines, OPEN_S)
    return float(min(lines.flip_s[j], lines.burst_end_s[j]))


@compiled
def _pulse(hall: Any, lines: Any, j: int, t: float, loaded: bool) -> float:
    """Short pulses, none without current; returns when one begins or ends.

    One that is due waits for the next change of a sensor, which is when currents change, but neither long nor beyond
    the next that is due.
    """
    if lines.pulse_s[j] < 0.0:
        lines.pulse_s[j], lines.pulse_end_s[j] = t + _waiting_s(lines, 1.0 / hall.pulses_hz), t
        lines.pulse_begin_s[j] = inf
    due = t >= lines.pulse_s[j]
    if due:
        lines.pulse_s[j] = t + _waiting_s(lines, 1.0 / hall.pulses_hz)
    if lines.pulse_begin_s[j] < inf and (due or t >= lines.pulse_begin_s[j]):
        lines.pulse_begin_s[j] = inf
        lines.pulse_end_s[j] = t + PULSE_S[0] + (PULSE_S[1] - PULSE_S[0]) * _uniform(lines)
    if due and loaded:
        lines.pulse_begin_s[j] = t + LATEST_S
    change_s = min(lines.pulse_s[j], lines.pulse_begin_s[j])
    if t < lines.pulse_end_s[j]:
        lines.pulse |= 1 << j
        return float(min(change_s, lines.pulse_end_s[j]))
    lines.pulse &= ~(1 << j)
    return float(change_s)


@compiled
def let_pulses_begin(lines: Any, t: float) -> None:
    """A sensor has changed at `t`: pulses that wait for it come soon after."""
    for j in range(3):
        if lines.pulse_s[j] >= 0.0 and lines.pulse_begin_s[j] < inf:
            lines.pulse_begin_s[j] = min(lines.pulse_begin_s[j], t + AFTER_EDGE_S)
            lines.next_s = min(lines.next_s, lines.pulse_begin_s[j])


@compiled
def _noise(lines: Any, t: float) -> float:
    """What an input without a pull-up makes of hum and noise; returns when it looks anew.

    Slots are counted: from a time after some days the next one could not be told.
    """
    due = t >= lines.noise_slot * NOISE_S
    if lines.noise_slot < 0:
        lines.noise_slot, due = floor(t / NOISE_S + 1e-6), True
    if due:
        lines.noise, hum = 0, 0.35 * sin(HUM_RAD_S * t)
        for j in range(3):
            noise = _uniform(lines) + _uniform(lines) + _uniform(lines) - 1.5  # nearly normal, sd 1/2
            lines.noise |= (1 if hum + 0.5 * noise > 0.0 else 0) << j
        lines.noise_slot += 1
    return float(lines.noise_slot * NOISE_S)


@compiled
def let_lines_change(hall: Any, lines: Any, t: float, loaded: bool) -> None:
    """Whatever is random and due at `t`, in s; `loaded`: current flows in the motor."""
    lines.next_s = inf
    for j in range(3):
        if hall.intermittent >> j & 1:
            lines.next_s = min(lines.next_s, _burst(hall, lines, j, t))
        else:
            lines.burst_s[j], lines.open = -1.0, lines.open & ~(1 << j)
        if hall.pulses >> j & 1:
            lines.next_s = min(lines.next_s, _pulse(hall, lines, j, t, loaded))
        else:
            lines.pulse_s[j], lines.pulse = -1.0, lines.pulse & ~(1 << j)
    if hall.floating:
        lines.next_s = min(lines.next_s, _noise(lines, t))
    else:
        lines.noise_slot = -1
