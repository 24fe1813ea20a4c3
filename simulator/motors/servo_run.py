"""Equations of a position servo and the loop that steps them: a DC motor with magnets, an encoder, three loops.

    L di/dt = u - R i - k_e w - U_b tanh(i / 0.05);   T = k_e i;   dw/dt as in physics/load.py, creep 0.05 rad/s
    encoder p = sign floor(2000 a / (2 pi)) 2 pi / 2000     (500 lines, four edges each)
    every 1 ms     w_f = 0.7 w_f + 0.3 (p - p_before) / 1 ms;   w_d = K_p (ref - p) within +-500 rad/s;   e = w_d - w_f
                   i_d = K_v e + x, within +-limit;   x += K_v / T_i e 1 ms only while i_d is within it
    every 0.1 ms   u = K_i (i_d - i) + y, within +-U;   y += K_ii (i_d - i) 0.1 ms only while u is within it

ref is a ramp from where the encoder stood at switching on, and a step on top. Off, the bridge lets go: the current
ends in its diodes. The first loops run at time 0.

Integrator: midpoint, the brush drop by its slope, cut at every 0.1 ms. Left out: the bridge's own switching and
losses, commutator ripple (see the other DC motor), play in the gear. May assume
constants made by its motor.
"""

from math import floor, sin
from typing import Any

import numpy as np

from simulator.physics.brush import brush_drop
from simulator.physics.freewheeling import DIODES_V, let_go, loose_v
from simulator.physics.index_pulse import AROUND_ZERO, pulsed
from simulator.physics.load import LOAD
from simulator.physics.shaft import held_still, turned
from simulator.physics.stepping import compiled, inlined, settled, turned_on
from simulator.physics.warmth import WARMTH, resistance_factor, sample_warmed

CURRENT_TICK_S, SPEED_TICKS = 1e-4, 10
KEPT, FRESH = 0.7, 0.3
SIGNALS = ("bridge_v", "motor_a", "supply_v")
TRUTHS = ("winding_c", "case_c", "following_error_rad", "reference_rad")
CONSTANTS = np.dtype(
    [
        ("load", LOAD),
        ("warmth", WARMTH),
        *((name, "f8") for name in ("ohm", "henry", "emf_v_s", "brush_v", "counts_rad", "source_v")),
        *((name, "f8") for name in ("position_gain", "highest_rad_s", "speed_gain", "speed_s")),
        *((name, "f8") for name in ("current_gain", "current_integral", "limit_a", "ramp_rad_s", "step_rad")),
        ("encoder_way", "f8"),
        ("powered", "i8"),
    ]
)
STATE = np.dtype(
    [
        *(
            (name, "f8")
            for name in ("i", "speed_rad_s", "slope_rad_s2", "angle_rad", "u", "wanted_a", "sum_a", "sum_v")
        ),
        *((name, "f8") for name in ("seen_rad", "seen_rad_s", "ramp_rad", "copper_j", "winding_c", "case_c")),
        ("swing_rad", "f8"),
        ("powered", "i8"),
        ("tick", "i8"),  # number of the next current loop
        ("energy_j", "f8", 3),
    ]
)


@compiled
def encoder_rad(case: Any, angle_rad: float) -> float:
    return float(case.encoder_way * floor(angle_rad * case.counts_rad) / case.counts_rad)


@compiled
def _begin(case: Any, kept: Any) -> None:
    """Switched on: the loops start from where the shaft is."""
    kept.sum_a, kept.sum_v, kept.wanted_a, kept.u = 0.0, 0.0, 0.0, 0.0
    kept.seen_rad, kept.seen_rad_s = encoder_rad(case, kept.angle_rad), 0.0
    kept.ramp_rad = kept.seen_rad


@compiled
def _speed_loop(case: Any, kept: Any) -> None:
    seen, tick_s = encoder_rad(case, kept.angle_rad), SPEED_TICKS * CURRENT_TICK_S
    kept.seen_rad_s = KEPT * kept.seen_rad_s + FRESH * (seen - kept.seen_rad) / tick_s
    kept.seen_rad = seen
    speed = case.position_gain * (kept.ramp_rad + case.step_rad - seen)
    error = min(max(speed, -case.highest_rad_s), case.highest_rad_s) - kept.seen_rad_s
    wanted = case.speed_gain * error + kept.sum_a
    if abs(wanted) < case.limit_a:
        kept.sum_a += case.speed_gain / case.speed_s * error * tick_s
    kept.wanted_a = min(max(wanted, -case.limit_a), case.limit_a)


@compiled
def _current_loop(case: Any, kept: Any) -> None:
    error = kept.wanted_a - kept.i
    u = case.current_gain * error + kept.sum_v
    if abs(u) < case.source_v:
        kept.sum_v += case.current_integral * error * CURRENT_TICK_S
    kept.u = min(max(u, -case.source_v), case.source_v)


@inlined
def _step(case: Any, kept: Any, ohm: float, dt: float, swing: float) -> None:
    w, i = kept.speed_rad_s + 0.5 * dt * kept.slope_rad_s2, kept.i
    brush_v, slope_ohm = brush_drop(case, i)
    if case.powered:
        per_v = dt / case.henry
        change = per_v * (kept.u - ohm * i - case.emf_v_s * w - brush_v) / (1.0 + 0.5 * per_v * (ohm + slope_ohm))
        after, mean = i + change, i + 0.5 * change
        given_w, diodes_w = kept.u * mean, 0.0
        brush_v += 0.5 * slope_ohm * change
    else:
        after, mean, _ = let_go(i, case.emf_v_s * w + brush_v, case.source_v, ohm, case.henry, dt)
        given_w, diodes_w = -case.source_v * abs(mean), DIODES_V * abs(mean)
    angle = kept.angle_rad
    turning, own_w, shaft_w = turned(case.load, case.emf_v_s * mean, kept.speed_rad_s, angle, swing, dt)
    kept.energy_j[0] += dt * given_w
    kept.energy_j[1] += dt * (ohm * mean * mean + brush_v * mean + diodes_w + own_w)
    kept.energy_j[2] += dt * shaft_w
    kept.copper_j += dt * ohm * mean * mean
    kept.i, kept.slope_rad_s2 = after, (turning - kept.speed_rad_s) / dt
    kept.angle_rad += 0.5 * dt * (kept.speed_rad_s + turning)
    kept.speed_rad_s = turning
    if case.powered:
        kept.ramp_rad += dt * case.ramp_rad_s


@inlined
def _let_loops_run(case: Any, kept: Any, t: float) -> None:
    """The loops that are due at `t`."""
    while kept.tick * CURRENT_TICK_S - t < 1e-12:
        if case.powered:
            if kept.tick % SPEED_TICKS == 0:
                _speed_loop(case, kept)
            _current_loop(case, kept)
        kept.tick += 1


@inlined
def _sample(case: Any, kept: Any, values: Any, truths: Any) -> float:
    """Fill what the channels and the truth see now; returns the torque."""
    loose = loose_v(kept.i, case.emf_v_s * kept.speed_rad_s, case.source_v)
    values[0], values[1], values[2] = kept.u if case.powered else loose, kept.i, case.source_v
    truths[0], truths[1], truths[3] = kept.winding_c, kept.case_c, kept.ramp_rad + case.step_rad
    truths[2] = truths[3] - encoder_rad(case, kept.angle_rad)
    return float(case.emf_v_s * kept.i)


@compiled
def run(
    cases: Any, states: Any, first: int, rate_hz: float, steps: int, values: Any, speed: Any, torque: Any,
    angle: Any, truths: Any, edge_times: Any, edge_states: Any, edge_counts: Any,
) -> None:  # fmt: skip
    """Fill the arrays of a block (see `Model.run`)."""
    h = 1.0 / (rate_hz * steps)
    for c in range(cases.shape[0]):
        case, kept, edges = cases[c], states[c], 0
        held_still(case.load, kept)
        if case.powered and not kept.powered:
            _begin(case, kept)
        kept.powered = case.powered
        times, levels = edge_times[c], edge_states[c]
        for n in range(speed.shape[1]):
            t0 = (first + n) / rate_hz
            ohm = case.ohm * resistance_factor(case.warmth, kept.winding_c)
            swing = sin(kept.swing_rad) if case.load.swing_n_m != 0.0 else 0.0
            for k in range(steps):
                done, before = 0.0, kept.angle_rad
                _let_loops_run(case, kept, t0 + k * h)
                if k == 0:
                    torque[c, n] = _sample(case, kept, values[c, :, n], truths[c, :, n])
                    speed[c, n], angle[c, n] = kept.speed_rad_s, kept.angle_rad
                while done < h - 1e-13:
                    dt = min(h - done, kept.tick * CURRENT_TICK_S - (t0 + k * h + done))
                    _step(case, kept, ohm, dt, swing)
                    done += dt
                    _let_loops_run(case, kept, t0 + k * h + done)
                edges = pulsed(AROUND_ZERO, before, kept.angle_rad, t0 + k * h, h, times, levels, edges)
            kept.speed_rad_s, kept.i = settled(kept.speed_rad_s), settled(kept.i)
            sample_warmed(case.warmth, kept, 1.0 / rate_hz)
            kept.swing_rad = turned_on(kept.swing_rad, case.load.swing_rad_s / rate_hz)
        edge_counts[c] = edges
