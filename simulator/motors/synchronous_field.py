"""Equations of the synchronous motor with two identical windings, a run capacitor in one. Loop: synchronous_run.py.

Stationary frame of the windings m and x, a quarter turn apart; the rotor at theta = p times its angle:

    dpsi_m/dt = u - R i_m                       psi = L(theta) i + lambda(theta)
    dpsi_x/dt = s u - u_C - R i_x               du_C/dt = i_x / C           line current = i_m + s i_x
    dpsi_kd/dt = -R_kd i_kd,  q alike           T = p (psi_m i_x - psi_x i_m)

s = -1 turns it forwards, s = 1 (ends of the auxiliary winding exchanged) backwards. In the rotor's frame (d + j q =
(m + j x) exp(-j theta)), the cage eliminated (psi_d = L_d i_d + L_md i_kd, psi_kd = L_kd i_kd + L_md i_d, q alike):

    L_dq = (L_d - k_d L_md, L_q - k_q L_mq),   lambda_dq = (psi + k_d psi_kd, k_q psi_kq),   k_d = L_md / L_kd

Magnets and no cage: L_d = L_q = L, k = 0. Reluctance: psi = 0. The supply's impedance stands in both loops.
What is open takes freedom away: with the auxiliary open i_x = 0; with the line open and the auxiliary not, both
windings are one loop through the capacitor, i_x = -s i_m; with both open nothing flows. The flux of what is left goes
on: psi_m, or psi_m - s psi_x, alone counts then. Open terminals show what the windings induce.
A pawl stops a shaft that would turn its way at once; what the shaft had is lost.

Integrator: Runge-Kutta of fourth order for fluxes and capacitor, with the speed going on as in the last step; then the
shaft (shaft.py) under the mean torque. Left out: saturation, iron, cogging, magnets that weaken with heat. May assume
constants made by its motor.
"""

from math import cos, sin
from typing import Any, TypeAlias

import numpy as np

from simulator.physics.load import LOAD
from simulator.physics.mains import MAINS, mains_v
from simulator.physics.shaft import kinetic_j, turned
from simulator.physics.stepping import inlined
from simulator.physics.warmth import WARMTH

LINE, AUXILIARY = 1, 2  # bits of what is closed
BOTH = LINE | AUXILIARY
GLANCE_S = 1e-7  # over which a channel sees a flux change
CONSTANTS = np.dtype(
    [
        ("mains", MAINS),
        ("load", LOAD),
        ("warmth", WARMTH),
        ("pole_pairs", "f8"),
        ("winding_ohm", "f8"),
        ("mean_h", "f8"),  # (L_d + L_q) / 2, cage eliminated
        ("swing_h", "f8"),  # (L_d - L_q) / 2
        ("magnet_v_s", "f8"),
        ("cage_h", "f8", 2),  # L_kd, L_kq
        ("cage_share", "f8", 2),  # k_d, k_q
        ("cage_ohm", "f8", 2),
        ("elastance_per_f", "f8"),  # 1 / C
        ("sense", "f8"),  # s
        ("pawl", "f8"),  # 0, or the only way it may turn
        ("rest_rad", "f8"),  # electrical
        ("wanted", "i8"),  # what is to be closed
    ]
)
STATE = np.dtype(
    [
        ("y", "f8", 5),  # psi_m psi_x psi_kd psi_kq u_C
        ("speed_rad_s", "f8"),
        ("angle_rad", "f8"),
        ("slope_rad_s2", "f8"),  # of the speed in the last step
        ("phase_rad", "f8"),
        ("flicker_rad", "f8"),
        ("swing_rad", "f8"),
        ("winding_c", "f8"),
        ("case_c", "f8"),
        ("arc_s", "f8"),
        ("source_h", "f8"),  # as it was last seen, as are the next three
        ("rest_rad", "f8"),
        ("sense", "f8"),
        ("elastance_per_f", "f8"),
        ("closed", "i8"),
        ("energy_j", "f8", 3),
    ]
)
Y: TypeAlias = tuple[float, float, float, float, float]
Linked: TypeAlias = tuple[float, float, float, float]  # i_m, i_x; fluxes of both windings, without the supply's
Mode: TypeAlias = tuple[int, float, float, float]  # what is closed, s, winding resistance, the supply's inductance
Shaft: TypeAlias = tuple[float, float, float]  # speed, angle, acceleration


@inlined
def linked(case: Any, mode: Mode, theta: float, y: Y) -> Linked:
    """Currents, and what the windings link."""
    closed, s, _, Ls = mode
    cosine, sine = cos(theta), sin(theta)
    d, q = case.magnet_v_s + case.cage_share[0] * y[2], case.cage_share[1] * y[3]
    free_m, free_x = cosine * d - sine * q, sine * d + cosine * q
    double_c, double_s = cosine * cosine - sine * sine, 2.0 * cosine * sine
    mm, mx, xx = case.mean_h + case.swing_h * double_c, case.swing_h * double_s, case.mean_h - case.swing_h * double_c
    Lmm, Lmx, Lxx = mm + Ls, mx + s * Ls, xx + Ls
    im, ix = 0.0, 0.0
    if closed == BOTH:
        a, b, scale = y[0] - free_m, y[1] - free_x, 1.0 / (Lmm * Lxx - Lmx * Lmx)
        im, ix = scale * (Lxx * a - Lmx * b), scale * (Lmm * b - Lmx * a)
    elif closed == LINE:
        im = (y[0] - free_m) / Lmm
    elif closed == AUXILIARY:
        im = (y[0] - free_m - s * (y[1] - free_x)) / (Lmm - 2.0 * s * Lmx + Lxx)
        ix = -s * im
    return im, ix, mm * im + mx * ix + free_m, mx * im + xx * ix + free_x


@inlined
def torque_n_m(case: Any, now: Linked) -> float:
    return float(case.pole_pairs * (now[2] * now[1] - now[3] * now[0]))


@inlined
def slopes(case: Any, mode: Mode, u: float, theta: float, y: Y) -> Y:
    _, s, ohm, _ = mode
    im, ix, _, _ = linked(case, mode, theta, y)
    source_v = case.mains.source_ohm * (im + s * ix)
    kd, kq = 0.0, 0.0
    if case.cage_ohm[0] > 0.0:
        cosine, sine = cos(theta), sin(theta)
        kd = -case.cage_ohm[0] * (y[2] / case.cage_h[0] - case.cage_share[0] * (cosine * im + sine * ix))
        kq = -case.cage_ohm[1] * (y[3] / case.cage_h[1] - case.cage_share[1] * (cosine * ix - sine * im))
    main = u - ohm * im - source_v
    return main, s * (u - source_v) - y[4] - ohm * ix, kd, kq, case.elastance_per_f * ix


@inlined
def _moved(y: Y, d: Y, h: float) -> Y:
    return y[0] + h * d[0], y[1] + h * d[1], y[2] + h * d[2], y[3] + h * d[3], y[4] + h * d[4]


@inlined
def _powers_w(case: Any, mode: Mode, u: float, theta: float, y: Y, now: Linked) -> tuple[float, float, float, float]:
    """What comes in at this instant; what supply, windings and cage lose."""
    im, ix, _, _ = now
    line_a, cage_w = im + mode[1] * ix, 0.0
    if case.cage_ohm[0] > 0.0:
        cosine, sine = cos(theta), sin(theta)
        kd = y[2] / case.cage_h[0] - case.cage_share[0] * (cosine * im + sine * ix)
        kq = y[3] / case.cage_h[1] - case.cage_share[1] * (cosine * ix - sine * im)
        cage_w = case.cage_ohm[0] * kd * kd + case.cage_ohm[1] * kq * kq
    return u * line_a, case.mains.source_ohm * line_a * line_a, mode[2] * (im * im + ix * ix), cage_w


@inlined
def stepped(
    case: Any, mode: Mode, u0: float, phase: float, amplitude: float, swing: float, y: Y, shaft: Shaft, energy: Any,
    h: float,
) -> tuple[Y, Shaft, float]:  # fmt: skip
    """One step from `u0`, which is the voltage at `phase`; what comes after, with its voltage.

    Adds to `energy`: input, lost, shaft, and of the lost: in the windings, in the rest of the motor.
    """
    w, angle, acceleration = shaft
    p, middle = case.pole_pairs, angle + 0.5 * h * (w + 0.25 * h * acceleration)
    end, wave = angle + h * (w + 0.5 * h * acceleration), h * case.mains.rad_s
    u1, u2 = mains_v(case.mains, phase + 0.5 * wave, amplitude), mains_v(case.mains, phase + wave, amplitude)
    k1 = slopes(case, mode, u0, p * angle, y)
    k2 = slopes(case, mode, u1, p * middle, _moved(y, k1, 0.5 * h))
    k3 = slopes(case, mode, u1, p * middle, _moved(y, k2, 0.5 * h))
    k4 = slopes(case, mode, u2, p * end, _moved(y, k3, h))
    after = _moved(_moved(_moved(_moved(y, k1, h / 6.0), k2, h / 3.0), k3, h / 3.0), k4, h / 6.0)
    before_linked, after_linked = linked(case, mode, p * angle, y), linked(case, mode, p * end, after)
    torque = 0.5 * (torque_n_m(case, before_linked) + torque_n_m(case, after_linked))
    w_after, own_w, shaft_w = turned(case.load, torque, w, angle, swing, h)
    if case.pawl * w_after < 0.0:
        w_after, own_w, shaft_w = 0.0, kinetic_j(case.load, w) / h, 0.0
    given_a, supply_a, winding_a, cage_a = _powers_w(case, mode, u0, p * angle, y, before_linked)
    given_b, supply_b, winding_b, cage_b = _powers_w(case, mode, u2, p * end, after, after_linked)
    winding_j, body_j = 0.5 * h * (winding_a + winding_b), h * (0.5 * (cage_a + cage_b) + own_w)
    energy[0] += 0.5 * h * (given_a + given_b)
    energy[1] += 0.5 * h * (supply_a + supply_b) + winding_j + body_j
    energy[2] += h * shaft_w
    energy[3] += winding_j
    energy[4] += body_j
    return after, (w_after, angle + 0.5 * h * (w + w_after), (w_after - w) / h), u2


@inlined
def measured(case: Any, mode: Mode, u: float, y: Y, shaft: Shaft, values: Any) -> float:
    """Fill `values` (4,) with what the channels see at this instant; return the air-gap torque."""
    closed, s, ohm, _ = mode
    theta = case.pole_pairs * shaft[1]
    now = linked(case, mode, theta, y)
    supply_v, capacitor_v = u, y[4]
    if closed != BOTH or case.mains.source_ohm != 0.0 or case.mains.source_h != 0.0:
        soon_y = _moved(y, slopes(case, mode, u, theta, y), GLANCE_S)
        soon = linked(case, mode, theta + case.pole_pairs * GLANCE_S * shaft[0], soon_y)
        supply_v = ohm * now[0] + (soon[2] - now[2]) / GLANCE_S
        if closed & AUXILIARY == 0:  # what stands where the capacitor was
            capacitor_v = s * supply_v - ohm * now[1] - (soon[3] - now[3]) / GLANCE_S
    values[0], values[1], values[2], values[3] = supply_v, capacitor_v, now[0] + s * now[1], now[1]
    return torque_n_m(case, now)


@inlined
def closed_on(case: Any, mode: Mode, y: Y, now: Linked) -> Y:
    """The state with other contacts: the fluxes that these currents link, the supply's with them."""
    source_v_s = case.mains.source_h * (now[0] + mode[1] * now[1])
    return now[2] + source_v_s, now[3] + mode[1] * source_v_s, y[2], y[3], y[4]
