"""Equations of the three-phase induction motor without neutral; three_phase_run.py steps them.

Stationary two-axis frame of the windings, amplitude-invariant, alpha on the first winding; complex alpha + j beta:

    dpsi_s/dt = u - R_s i_s                     psi_s = (L_s + L_M) i_s + L_M i_r
    dpsi_r/dt = -R_r i_r + j p w psi_r          psi_r = L_M i_s + (L_r + L_M) i_r
    T = 3/2 p k (psi_ra i_sb - psi_rb i_sa)     k = L_M / (L_r + L_M)

stepped as i_s and psi_r:  L_t di_s/dt = G (u - R_s i_s - k dpsi_r/dt),  L_t = L_s + L_M - k L_M. What is open takes
freedom away: G is the unit matrix with three lines closed, t t' with one open (t across that line's axis), nothing
with more. A line parts at the zero of its current, found inside the step (where none comes, on direct current, after
20 ms: what its arc takes is lost), and psi_r goes on; open terminals show k dpsi_r/dt.

Delta (textbook): a winding between two lines sees sqrt(3) exp(j 30 deg) u, its line carries sqrt(3) exp(-j 30 deg) i;
nothing circulates, as three line voltages add up to nothing. An impedance of the supply then counts three times.
Broken bar: R_r [1 + e/2 + e/2 (cos 2a, sin 2a; sin 2a, -cos 2a)], a = p times the rotor's angle.
Core: a resistor R_fe across each phase that carries, seen by the lines but not by the supply's impedance.
Channels see the line currents times (1 + 2 a_s cos R angle)(1 + 2 a_e cos angle): rotor slots (R bars) give lines at
f [R (1 - s) / p +/- 1], eccentricity lines at f +/- n/60, each a_s or a_e of the current; the equations know neither.

Integrator: Runge-Kutta of fourth order for the currents, with the speed going on as in the last step; then the shaft
(shaft.py) under the mean torque. Left out: saturation, skin effect, space harmonics. May assume constants made by its
motor.
"""

from math import cos, sin, sqrt
from typing import Any, TypeAlias

import numpy as np

from simulator.physics.load import LOAD
from simulator.physics.mains import HARMONICS, LONGEST_ARC_S, MAINS
from simulator.physics.shaft import turned
from simulator.physics.stepping import compiled, inlined
from simulator.physics.warmth import WARMTH, cage_factor, resistance_factor

SIGNALS = ("l1_v", "l2_v", "l3_v", "l1_a", "l2_a", "l3_a")
TRUTHS = ("winding_c", "case_c", "load_n_m", "l1_closed", "l2_closed", "l3_closed", "delta_closed")
ALL_LINES = 7  # bits of the lines that are closed
ROOT3 = sqrt(3)
CONSTANTS = np.dtype(  # where two stand: in star, in delta
    [
        ("mains", MAINS),
        ("load", LOAD),
        ("warmth", WARMTH),
        ("waves_v", "f8", (2, 1 + len(HARMONICS), 4)),  # alpha, beta with sin h phase; alpha, beta with cos h phase
        ("direct_v", "f8", (2, 2)),
        ("free_per_h", "f8", (2, 8, 3)),  # G / L_t of each set of closed lines: aa, ab, bb
        ("transient_h", "f8", 2),  # L_t, supply's inductance in it
        ("source_ohm", "f8", 2),
        ("source_h", "f8", 2),
        ("stator_ohm", "f8"),
        ("rotor_ohm", "f8"),
        ("rotor_per_h", "f8"),  # 1 / (L_r + L_M)
        ("coupling", "f8"),  # k
        ("core_siemens", "f8"),
        ("pole_pairs", "f8"),
        ("bars", "f8"),
        ("asymmetry", "f8"),
        ("slots", "f8"),
        ("eccentricity", "f8"),
        ("closed", "i8"),  # the lines that are wanted
        ("delta", "i8"),
    ]
)
STATE = np.dtype(
    [
        ("y", "f8", 4),  # i_s alpha, beta; psi_r alpha, beta
        ("speed_rad_s", "f8"),
        ("angle_rad", "f8"),
        ("slope_rad_s2", "f8"),  # of the speed in the last step
        ("phase_rad", "f8"),
        ("flicker_rad", "f8"),
        ("swing_rad", "f8"),
        ("winding_c", "f8"),
        ("case_c", "f8"),
        ("arc_s", "f8"),
        ("source_h", "f8"),  # as it was last seen
        ("closed", "i8"),
        ("delta", "i8"),
        ("energy_j", "f8", 3),
    ]
)
_Y: TypeAlias = tuple[float, float, float, float]
_Mode: TypeAlias = tuple[int, float, float, float, float, float]  # star or delta; G / L_t; stator and rotor ohms
_Shaft: TypeAlias = tuple[float, float, float]  # speed, angle, acceleration
Wave: TypeAlias = tuple[float, float, float, float]  # voltages alpha, beta; sine and cosine of their phase


@inlined
def waves(case: Any, delta: int, s: float, c: float, phase: float, amplitude: float) -> Wave:
    """What the windings would see without the supply's impedance; s, c: sine and cosine of the phase."""
    M, sine, cosine = case.waves_v, s, c
    ua = M[delta, 0, 0] * s + M[delta, 0, 2] * c
    ub = M[delta, 0, 1] * s + M[delta, 0, 3] * c
    if case.mains.distorted:
        for k in range(len(HARMONICS)):
            s, c = sin(HARMONICS[k] * phase), cos(HARMONICS[k] * phase)
            ua += M[delta, k + 1, 0] * s + M[delta, k + 1, 2] * c
            ub += M[delta, k + 1, 1] * s + M[delta, k + 1, 3] * c
    return amplitude * ua + case.direct_v[delta, 0], amplitude * ub + case.direct_v[delta, 1], sine, cosine


@inlined
def _rotor(case: Any, rotor_ohm: float, angle: float, y: _Y) -> tuple[float, float, float]:
    """Voltages across the cage (two axes), and what it loses in W."""
    ira = y[2] * case.rotor_per_h - case.coupling * y[0]
    irb = y[3] * case.rotor_per_h - case.coupling * y[1]
    va, vb = rotor_ohm * ira, rotor_ohm * irb
    if case.asymmetry > 0.0:
        half, axis = 0.5 * case.asymmetry, 2.0 * case.pole_pairs * angle
        c, s = half * cos(axis), half * sin(axis)
        va, vb = (1.0 + half + c) * va + s * vb, s * va + (1.0 + half - c) * vb
    return va, vb, 1.5 * (va * ira + vb * irb)


@inlined
def _slopes(case: Any, mode: _Mode, ua: float, ub: float, shaft: _Shaft, y: _Y, ahead_s: float) -> _Y:
    _, gaa, gab, gbb, stator_ohm, rotor_ohm = mode
    speed = case.pole_pairs * (shaft[0] + ahead_s * shaft[2])
    va, vb, _ = _rotor(case, rotor_ohm, shaft[1] + ahead_s * shaft[0], y)
    da, db = -va - speed * y[3], -vb + speed * y[2]
    k = case.coupling
    ea, eb = ua - stator_ohm * y[0] - k * da, ub - stator_ohm * y[1] - k * db
    return gaa * ea + gab * eb, gab * ea + gbb * eb, da, db


@inlined
def _moved(y: _Y, d: _Y, h: float) -> _Y:
    return y[0] + h * d[0], y[1] + h * d[1], y[2] + h * d[2], y[3] + h * d[3]


@inlined
def torque_n_m(case: Any, y: _Y) -> float:
    return float(1.5 * case.pole_pairs * case.coupling * (y[2] * y[1] - y[3] * y[0]))


@inlined
def _terminals(case: Any, mode: _Mode, y: _Y, d: _Y) -> _Y:
    """Voltage across the windings, and what the core takes (alpha, beta each)."""
    delta, gaa, gab, gbb, stator_ohm, _ = mode
    ohm, henry = stator_ohm - case.source_ohm[delta], case.transient_h[delta] - case.source_h[delta]
    k = case.coupling
    ua, ub = ohm * y[0] + henry * d[0] + k * d[2], ohm * y[1] + henry * d[1] + k * d[3]
    core_s = case.transient_h[delta] * case.core_siemens
    return ua, ub, core_s * (gaa * ua + gab * ub), core_s * (gab * ua + gbb * ub)


@inlined
def stepped(
    case: Any, mode: _Mode, wave: Wave, phase: float, amplitude: float, swing: float, y: _Y, shaft: _Shaft, energy: Any,
    h: float,
) -> tuple[_Y, _Shaft, Wave]:  # fmt: skip
    """One step from `wave`, which is that at `phase`; what comes after, with its wave.

    Adds to `energy`: input, lost, shaft, and of the lost: in the winding, in the rest of the motor.
    """
    delta, half = mode[0], 0.5 * h * case.mains.rad_s
    ua, ub, s, c = wave
    turn_s, turn_c = sin(half), cos(half)
    ma, mb, s, c = waves(case, delta, s * turn_c + c * turn_s, c * turn_c - s * turn_s, phase + half, amplitude)
    wave = waves(case, delta, s * turn_c + c * turn_s, c * turn_c - s * turn_s, phase + 2.0 * half, amplitude)
    va, vb, _, _ = wave
    k1 = _slopes(case, mode, ua, ub, shaft, y, 0.0)
    k2 = _slopes(case, mode, ma, mb, shaft, _moved(y, k1, 0.5 * h), 0.5 * h)
    k3 = _slopes(case, mode, ma, mb, shaft, _moved(y, k2, 0.5 * h), 0.5 * h)
    k4 = _slopes(case, mode, va, vb, shaft, _moved(y, k3, h), h)
    after = _moved(_moved(_moved(_moved(y, k1, h / 6.0), k2, h / 3.0), k3, h / 3.0), k4, h / 6.0)
    w, angle, _ = shaft
    w_after, own_w, shaft_w = turned(
        case.load, 0.5 * (torque_n_m(case, y) + torque_n_m(case, after)), w, angle, swing, h
    )
    angle_after = angle + 0.5 * h * (w + w_after)
    ta, tb, core_a, core_b = _terminals(case, mode, y, k1)
    core_w = 1.5 * (ta * core_a + tb * core_b)
    _, _, before_w = _rotor(case, mode[5], angle, y)
    _, _, after_w = _rotor(case, mode[5], angle_after, after)
    squares = 0.75 * (y[0] * y[0] + y[1] * y[1] + after[0] * after[0] + after[1] * after[1])
    winding_w = (mode[4] - case.source_ohm[delta]) * squares
    body_w = core_w + 0.5 * (before_w + after_w) + own_w
    energy[0] += h * (0.75 * (ua * y[0] + ub * y[1] + va * after[0] + vb * after[1]) + core_w)
    energy[1] += h * (case.source_ohm[delta] * squares + winding_w + body_w)
    energy[2] += h * shaft_w
    energy[3] += h * winding_w
    energy[4] += h * body_w
    return after, (w_after, angle_after, (w_after - w) / h), wave


@inlined
def _line(vector_a: float, vector_b: float, line: int) -> float:
    """The share of line 0, 1 or 2 in a vector."""
    if line == 0:
        return vector_a
    return -0.5 * vector_a + (0.5 * ROOT3 if line == 1 else -0.5 * ROOT3) * vector_b


@inlined
def _to_lines(delta: int, a: float, b: float) -> tuple[float, float]:
    """Currents of the windings as currents of the lines."""
    return (1.5 * a + 0.5 * ROOT3 * b, 1.5 * b - 0.5 * ROOT3 * a) if delta else (a, b)


@compiled
def parting_line(delta: int, parts: int, arc_s: float, y: _Y, after: _Y) -> tuple[float, int]:
    """The share of the step at which the first of the lines `parts` parts, and its bit; 2 and 0 if none does."""
    before_a, before_b = _to_lines(delta, y[0], y[1])
    after_a, after_b = _to_lines(delta, after[0], after[1])
    share, parting = 2.0, 0
    for line in range(3):
        if parts & 1 << line:
            i, j = _line(before_a, before_b, line), _line(after_a, after_b, line)
            if abs(i) < 1e-12 or i * j <= 0.0 or arc_s > LONGEST_ARC_S:
                zero = i / (i - j) if abs(i) >= 1e-12 and i * j <= 0.0 else 0.0
                if zero < share:
                    share, parting = zero, 1 << line
    return share, parting


@inlined
def mode_of(case: Any, delta: int, closed: int, winding_c: float) -> _Mode:
    """What holds for these closed lines. The cage is of aluminium, as warm as the winding."""
    G = case.free_per_h
    copper = resistance_factor(case.warmth, winding_c)
    return (
        delta, G[delta, closed, 0], G[delta, closed, 1], G[delta, closed, 2],
        case.stator_ohm * copper + case.source_ohm[delta], case.rotor_ohm * cage_factor(case.warmth, winding_c),
    )  # fmt: skip


@compiled
def opened(case: Any, mode: _Mode, y: _Y, energy: Any) -> _Y:
    """The state with the current that is left; what the arc took is lost."""
    delta, gaa, gab, gbb, _, _ = mode
    henry = case.transient_h[delta]
    a, b = henry * (gaa * y[0] + gab * y[1]), henry * (gab * y[0] + gbb * y[1])
    energy[1] += 0.75 * henry * (y[0] * y[0] + y[1] * y[1] - a * a - b * b)
    return a, b, y[2], y[3]


@inlined
def measured(case: Any, mode: _Mode, wave: Wave, y: _Y, shaft: _Shaft, values: Any) -> None:
    """Fill `values` (6,) with what the channels see at this instant."""
    delta, ua, ub = mode[0], wave[0], wave[1]
    if mode[1] == mode[3] > 0.0 == mode[2] and case.source_ohm[0] == 0.0 and case.source_h[0] == 0.0:
        va, vb, core_a, core_b = ua, ub, case.core_siemens * ua, case.core_siemens * ub
    else:
        va, vb, core_a, core_b = _terminals(case, mode, y, _slopes(case, mode, ua, ub, shaft, y, 0.0))
    if delta:
        va, vb = 0.5 * va + vb / (2.0 * ROOT3), 0.5 * vb - va / (2.0 * ROOT3)
    ia, ib = _to_lines(delta, y[0] + core_a, y[1] + core_b)
    seen = 1.0
    if case.slots != 0.0 or case.eccentricity != 0.0:
        seen += 2.0 * case.slots * cos(case.bars * shaft[1])
        seen *= 1.0 + 2.0 * case.eccentricity * cos(shaft[1])
    for line in range(3):
        values[line] = _line(va, vb, line)
        values[3 + line] = seen * _line(ia, ib, line)
