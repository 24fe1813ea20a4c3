"""Equations of a two-phase hybrid stepping motor on a voltage driver, two coils on, and the loop that steps them.

    L di_1/dt = u_1 - R i_1 + K w sin(N a);   L di_2/dt = u_2 - R i_2 - K w cos(N a)
    T = K (-i_1 sin(N a) + i_2 cos(N a)) - T_d sin(4 N a);   dw/dt as in physics/load.py, creep 0.3 rad/s

a is the shaft's angle, N its teeth, T_d the detent. The driver puts its supply on the coils as (+,+) (-,+) (-,-)
(+,-) and moves on by one of these at every whole step of the command, whose rate follows its set point at the ramp.
Off (no supply, not enabled, or at rest without holding) the coils let go into its diodes. Steps made and missed are
counted from where the shaft was when the driver came on, or when the ends of a coil were exchanged.

Integrator: midpoint (EMF at the speed that the last step lets expect), cut at every commanded step: instants are
exact, as 10 us move the swing of the speed by 5 %. Not modelled: saturation, iron loss, current chopping. May
assume constants made by its motor.
"""

from math import cos, floor, pi, sin
from typing import Any

import numpy as np

from simulator.physics.freewheeling import DIODES_V, let_go, loose_v
from simulator.physics.index_pulse import AROUND_ZERO, pulsed
from simulator.physics.load import LOAD
from simulator.physics.shaft import held_still, turned
from simulator.physics.stepping import compiled, inlined, settled, turned_on
from simulator.physics.warmth import WARMTH, resistance_factor, sample_warmed

SIGNALS = ("coil_1_v", "coil_1_a", "coil_2_v", "coil_2_a")
TRUTHS = ("winding_c", "case_c", "commanded_steps", "made_steps", "missed_steps")
SIGN_1, SIGN_2 = (1.0, -1.0, -1.0, 1.0), (1.0, 1.0, -1.0, -1.0)
CONSTANTS = np.dtype(
    [
        ("load", LOAD),
        ("warmth", WARMTH),
        ("teeth", "f8"),
        ("ohm", "f8"),
        ("henry", "f8"),
        ("torque_n_m_a", "f8"),
        ("detent_n_m", "f8"),
        ("driver_v", "f8"),
        ("powered", "i8"),
        ("holding", "i8"),
        ("rate_hz", "f8"),  # signed
        ("ramp_hz_s", "f8"),
        ("coil_1_way", "f8"),
    ]
)
STATE = np.dtype(
    [
        ("i", "f8", 2),
        ("speed_rad_s", "f8"),
        ("slope_rad_s2", "f8"),
        ("angle_rad", "f8"),
        ("swing_rad", "f8"),
        ("rate_hz", "f8"),
        ("index", "i8"),  # steps commanded
        ("part", "f8"),  # of the next one, -1 to 1
        ("made_zero", "f8"),  # steps made are counted from there
        ("coil_1_way", "f8"),  # as it was last seen
        ("powered", "i8"),  # the same
        ("winding_c", "f8"),
        ("case_c", "f8"),
        ("copper_j", "f8"),  # since the sample
        ("energy_j", "f8", 3),
    ]
)


@inlined
def _command(case: Any, kept: Any, longest: float) -> float:
    """Let the command go on, by `longest` or up to its next whole step; returns that time."""
    rate = kept.rate_hz
    after = case.rate_hz
    if case.ramp_hz_s > 0.0:
        most = case.ramp_hz_s * longest
        after = rate + min(max(case.rate_hz - rate, -most), most)
    mean = 0.5 * (rate + after) if case.ramp_hz_s > 0.0 else case.rate_hz
    dt, way = longest, 0
    if kept.part + mean * longest >= 1.0:
        dt, way = (1.0 - kept.part) / mean, 1
    elif kept.part + mean * longest <= -1.0:
        dt, way = (-1.0 - kept.part) / mean, -1
    kept.rate_hz = rate + (after - rate) * dt / longest if case.ramp_hz_s > 0.0 else case.rate_hz
    kept.part = 0.0 if way else kept.part + mean * dt
    kept.index += way
    return dt


@inlined
def _torque(case: Any, i_1: float, i_2: float, sine: float, cosine: float) -> float:
    """From sine and cosine of N a."""
    detent = case.detent_n_m * 4.0 * sine * cosine * (1.0 - 2.0 * sine * sine)  # sin 4 x
    return float(case.torque_n_m_a * (i_2 * cosine - i_1 * sine) - detent)


@inlined
def _voltages(case: Any, index: int) -> tuple[float, float]:
    return case.driver_v * case.coil_1_way * SIGN_1[index % 4], case.driver_v * SIGN_2[index % 4]


@inlined
def _position(case: Any, angle_rad: float) -> float:
    """Where the shaft is, in steps that the coils as they hang make: the index that holds it there, but for fours."""
    steps = case.teeth * angle_rad / (0.5 * pi)
    return float(steps - 0.5 if case.coil_1_way > 0.0 else 1.5 - steps)


@inlined
def _take_hold(case: Any, kept: Any) -> None:
    """What a change of the controls does at once. Steps count anew from the nearest place where the coils may hold."""
    held_still(case.load, kept)
    if kept.coil_1_way != case.coil_1_way or (case.powered and not kept.powered):
        apart = kept.index - _position(case, kept.angle_rad)
        kept.made_zero = 4.0 * floor(apart / 4.0 + 0.5)
    kept.coil_1_way, kept.powered = case.coil_1_way, case.powered


@inlined
def _step(case: Any, kept: Any, index: int, on: bool, ohm: float, dt: float, swing: float) -> None:
    """`dt` seconds with the coils as step `index` has them."""
    w = kept.speed_rad_s + 0.5 * dt * kept.slope_rad_s2
    mid = case.teeth * (kept.angle_rad + 0.5 * dt * kept.speed_rad_s)
    sine, cosine = sin(mid), cos(mid)
    emf_1, emf_2 = -case.torque_n_m_a * w * sine, case.torque_n_m_a * w * cosine
    u_1, u_2 = _voltages(case, index)
    i_1, i_2 = kept.i[0], kept.i[1]
    if on:
        half = 0.5 * dt * ohm / case.henry
        after_1 = (i_1 * (1.0 - half) + dt / case.henry * (u_1 - emf_1)) / (1.0 + half)
        after_2 = (i_2 * (1.0 - half) + dt / case.henry * (u_2 - emf_2)) / (1.0 + half)
        mean_1, mean_2 = 0.5 * (i_1 + after_1), 0.5 * (i_2 + after_2)
        given_w, diodes_w = u_1 * mean_1 + u_2 * mean_2, 0.0
    else:
        after_1, mean_1, u_1 = let_go(i_1, emf_1, case.driver_v, ohm, case.henry, dt)
        after_2, mean_2, u_2 = let_go(i_2, emf_2, case.driver_v, ohm, case.henry, dt)
        flows = abs(mean_1) + abs(mean_2)
        given_w, diodes_w = -case.driver_v * flows, DIODES_V * flows
    torque = _torque(case, mean_1, mean_2, sine, cosine)
    after, own_w, shaft_w = turned(case.load, torque, kept.speed_rad_s, kept.angle_rad, swing, dt)
    copper_w = ohm * (mean_1 * mean_1 + mean_2 * mean_2)
    kept.energy_j[0] += dt * given_w
    kept.energy_j[1] += dt * (copper_w + diodes_w + own_w)
    kept.energy_j[2] += dt * shaft_w
    kept.copper_j += dt * copper_w
    kept.i[0], kept.i[1] = after_1, after_2
    kept.slope_rad_s2 = (after - kept.speed_rad_s) / dt
    kept.angle_rad += 0.5 * dt * (kept.speed_rad_s + after)
    kept.speed_rad_s = after


@inlined
def _sample(case: Any, kept: Any, on: bool, values: Any, truths: Any) -> float:
    """Fill what the channels and the truth see now; returns the torque."""
    teeth, w = case.teeth * kept.angle_rad, kept.speed_rad_s
    sine, cosine = sin(teeth), cos(teeth)
    values[0], values[2] = _voltages(case, kept.index)
    if not on:
        values[0] = loose_v(kept.i[0], -case.torque_n_m_a * w * sine, case.driver_v)
        values[2] = loose_v(kept.i[1], case.torque_n_m_a * w * cosine, case.driver_v)
    values[1], values[3] = kept.i[0], kept.i[1]
    made = _position(case, kept.angle_rad) + kept.made_zero
    truths[0], truths[1], truths[2], truths[3] = kept.winding_c, kept.case_c, kept.index, made
    truths[4] = 4.0 * floor((kept.index - made) / 4.0 + 0.5)
    return _torque(case, kept.i[0], kept.i[1], sine, cosine)


@compiled
def run(
    cases: Any, states: Any, first: int, rate_hz: float, steps: int, values: Any, speed: Any, torque: Any,
    angle: Any, truths: Any, edge_times: Any, edge_states: Any, edge_counts: Any,
) -> None:  # fmt: skip
    """Fill the arrays of a block (see `Model.run`)."""
    h = 1.0 / (rate_hz * steps)
    for c in range(cases.shape[0]):
        case, kept, edges = cases[c], states[c], 0
        _take_hold(case, kept)
        times, levels = edge_times[c], edge_states[c]
        for n in range(speed.shape[1]):
            t0 = (first + n) / rate_hz
            ohm = case.ohm * resistance_factor(case.warmth, kept.winding_c)
            swing = sin(kept.swing_rad) if case.load.swing_n_m != 0.0 else 0.0
            on = case.powered and (case.holding or kept.rate_hz != 0.0 or case.rate_hz != 0.0)
            torque[c, n] = _sample(case, kept, on, values[c, :, n], truths[c, :, n])
            speed[c, n], angle[c, n] = kept.speed_rad_s, kept.angle_rad
            for k in range(steps):
                done, before = 0.0, kept.angle_rad
                while done < h - 1e-13:
                    index = kept.index
                    dt = _command(case, kept, h - done)
                    if dt > 0.0:
                        _step(case, kept, index, on, ohm, dt, swing)
                        done += dt
                edges = pulsed(AROUND_ZERO, before, kept.angle_rad, t0 + k * h, h, times, levels, edges)
            _settle(case, kept, 1.0 / rate_hz)
            kept.swing_rad = turned_on(kept.swing_rad, case.load.swing_rad_s / rate_hz)
        edge_counts[c] = edges


@compiled
def _settle(case: Any, kept: Any, seconds: float) -> None:
    """Once a sample: what dies away for ever becomes nothing, and the winding warms."""
    kept.speed_rad_s = settled(kept.speed_rad_s)
    kept.i[0], kept.i[1] = settled(kept.i[0]), settled(kept.i[1])
    sample_warmed(case.warmth, kept, seconds)
