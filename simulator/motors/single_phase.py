"""Equations of the single-phase induction motor with two windings, and the loop that steps them.

Stationary two-axis frame. Windings m (main, axis 0) and x (auxiliary, at angle g, turns ratio a), cage
r referred to the main winding; i = (i_m, i_x, i_ra, i_rb), psi = L i:

    L = [ Llm+LM      a cos g LM      LM            0
          a cos g LM  Llx + a^2 LM    a cos g LM    a sin g LM
          LM          a cos g LM      Llr+LM        0
          0           a sin g LM      0             Llr+LM ]
    dpsi_m/dt  = u - Rm i_m                     dpsi_x/dt  = u - u_C - (Rx + Rc) i_x
    dpsi_ra/dt = -Rr i_ra - p w psi_rb          dpsi_rb/dt = -Rr i_rb + p w psi_ra
    du_C/dt = i_x / C                           line current = i_m + i_x + u/Rfe
    T = p LM (i_ra a sin g i_x - i_rb (i_m + a cos g i_x))
    J dw/dt = T - T_L tanh(w / 0.5 rad/s) - B w - k w abs(w)

What is open takes freedom away: the currents are i = S j with fewer j. With the auxiliary open i_x = 0;
with the line open and the auxiliary not, both windings are one loop through the capacitor, i_x = -i_m;
with both open only the cage carries current. For each of the four connections

    di/dt = G dpsi/dt,   G = S (S' L S)^-1 S'

holds, the terms of an open circuit falling out by themselves, and a contact that parts at the zero of
its current keeps the flux of what stays closed: i := G L i. Contacts part at that zero, found inside the
step; they close at once. At open terminals stands u = Rm i_m + dpsi_m/dt.

Integrator: Runge-Kutta of fourth order. May assume constants made by its motor; never checks them.
"""

from math import floor, pi, sin, tanh
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from simulator.stepping import Block, compiled, empty_block

SIGNALS = ("supply_v", "capacitor_v", "line_a", "auxiliary_a")
LINE, AUXILIARY = 1, 2  # bits of a connection: what is closed
CREEP_RAD_S = 0.5  # below it friction falls to nothing, so that it holds a shaft and never drives it

CONSTANTS = np.dtype(
    [
        ("inductance_h", "f8", (4, 4)),
        ("inverse_per_h", "f8", (4, 4, 4)),  # G of each connection
        ("kept", "f8", (4, 4, 4)),  # G L of each connection
        ("pole_pairs", "f8"),
        ("turns_cos", "f8"),  # a cos g
        ("turns_sin", "f8"),  # a sin g
        ("magnetizing_h", "f8"),
        ("main_ohm", "f8"),
        ("auxiliary_ohm", "f8"),
        ("rotor_ohm", "f8"),
        ("core_ohm", "f8"),
        ("capacitor_ohm", "f8"),
        ("elastance_per_f", "f8"),  # 1/C; 0 is a short circuit
        ("inertia_kg_m2", "f8"),
        ("friction_n_m_s", "f8"),
        ("fan_n_m_s2", "f8"),
        ("load_torque_n_m", "f8"),
        ("peak_v", "f8"),
        ("mains_rad_s", "f8"),
        ("closed", "i8"),  # the connection that is wanted
        ("held", "i8"),
    ]
)
STATE = np.dtype([("y", "f8", 7), ("phase_rad", "f8"), ("closed", "i8")])  # y: i_m i_x i_ra i_rb u_C w angle

_Y: TypeAlias = tuple[float, float, float, float, float, float, float]


def inverses(inductance_h: NDArray[np.float64]) -> NDArray[np.float64]:
    """G of the four connections, shape (4, 4, 4), in 1/H; `inductance_h` (4, 4)."""
    free = {
        0: [[0, 0, 1, 0], [0, 0, 0, 1]],
        LINE: [[1, 0, 0, 0], [0, 0, 1, 0], [0, 0, 0, 1]],
        AUXILIARY: [[1, -1, 0, 0], [0, 0, 1, 0], [0, 0, 0, 1]],
        LINE | AUXILIARY: np.eye(4),
    }
    result = np.zeros((4, 4, 4))
    for connection, rows in free.items():
        S = np.array(rows, dtype=np.float64).T
        result[connection] = S @ np.linalg.inv(S.T @ inductance_h @ S) @ S.T
    return result


@compiled
def _torque(case: Any, y: _Y) -> float:
    main_axis = y[0] + case.turns_cos * y[1]
    across = case.turns_sin * y[1]
    return float(case.pole_pairs * case.magnetizing_h * (y[2] * across - y[3] * main_axis))


@compiled
def _product(M: Any, closed: int, m: float, x: float, a: float, b: float) -> tuple[float, float, float, float]:
    """M[closed] times the column (m, x, a, b)."""
    return (
        M[closed, 0, 0] * m + M[closed, 0, 1] * x + M[closed, 0, 2] * a + M[closed, 0, 3] * b,
        M[closed, 1, 0] * m + M[closed, 1, 1] * x + M[closed, 1, 2] * a + M[closed, 1, 3] * b,
        M[closed, 2, 0] * m + M[closed, 2, 1] * x + M[closed, 2, 2] * a + M[closed, 2, 3] * b,
        M[closed, 3, 0] * m + M[closed, 3, 1] * x + M[closed, 3, 2] * a + M[closed, 3, 3] * b,
    )


@compiled
def _slopes(case: Any, closed: int, u: float, y: _Y) -> _Y:
    im, ix, ia, ib, uc, w, _ = y
    L, speed = case.inductance_h, case.pole_pairs * w
    flux_a = L[2, 0] * im + L[2, 1] * ix + L[2, 2] * ia
    flux_b = L[3, 1] * ix + L[3, 3] * ib
    em = u - case.main_ohm * im
    ex = u - uc - (case.auxiliary_ohm + case.capacitor_ohm) * ix
    ea = -case.rotor_ohm * ia - speed * flux_b
    eb = -case.rotor_ohm * ib + speed * flux_a
    turning = 0.0
    if not case.held:
        load = case.load_torque_n_m * tanh(w / CREEP_RAD_S) + case.friction_n_m_s * w + case.fan_n_m_s2 * w * abs(w)
        turning = (_torque(case, y) - load) / case.inertia_kg_m2
    di = _product(case.inverse_per_h, closed, em, ex, ea, eb)
    return (di[0], di[1], di[2], di[3], case.elastance_per_f * ix, turning, w)


@compiled
def _moved(y: _Y, d: _Y, h: float) -> _Y:
    return (
        y[0] + h * d[0],
        y[1] + h * d[1],
        y[2] + h * d[2],
        y[3] + h * d[3],
        y[4] + h * d[4],
        y[5] + h * d[5],
        y[6] + h * d[6],
    )


@compiled
def _stepped(case: Any, closed: int, phase: float, y: _Y, h: float) -> _Y:
    """One Runge-Kutta step of fourth order."""
    middle = case.peak_v * sin(phase + 0.5 * h * case.mains_rad_s)
    k1 = _slopes(case, closed, case.peak_v * sin(phase), y)
    k2 = _slopes(case, closed, middle, _moved(y, k1, 0.5 * h))
    k3 = _slopes(case, closed, middle, _moved(y, k2, 0.5 * h))
    k4 = _slopes(case, closed, case.peak_v * sin(phase + h * case.mains_rad_s), _moved(y, k3, h))
    return _moved(_moved(_moved(_moved(y, k1, h / 6), k2, h / 3), k3, h / 3), k4, h / 6)


@compiled
def _parted(case: Any, closed: int, y: _Y) -> _Y:
    """The state after a contact has parted: the flux of what stays closed is kept."""
    i = _product(case.kept, closed, y[0], y[1], y[2], y[3])
    return (i[0], i[1], i[2], i[3], y[4], y[5], y[6])


@compiled
def _contact_a(contact: int, y: _Y) -> float:
    return y[0] + y[1] if contact == LINE else y[1]


@compiled
def _opened(case: Any, closed: int, phase: float, y: _Y, after: _Y, h: float) -> tuple[int, _Y]:
    """The step anew if a contact that is to open has its zero of current in it."""
    share, parting = 2.0, 0
    for contact in (LINE, AUXILIARY):
        if closed & ~case.closed & contact:
            before_a, after_a = _contact_a(contact, y), _contact_a(contact, after)
            if before_a == 0.0 or before_a * after_a <= 0.0:
                zero = 0.0 if before_a == 0.0 else before_a / (before_a - after_a)
                if zero < share:
                    share, parting = zero, contact
    if parting == 0:
        return closed, after
    closed &= ~parting
    y = _parted(case, closed, _stepped(case, closed | parting, phase, y, share * h))
    return closed, _stepped(case, closed, phase + share * h * case.mains_rad_s, y, (1.0 - share) * h)


@compiled
def _measured(case: Any, closed: int, phase: float, y: _Y, values: Any) -> None:
    """Fill `values` (4,) with what the channels see at this instant."""
    u = case.peak_v * sin(phase)
    d = _slopes(case, closed, u, y)
    L = case.inductance_h
    if not closed & LINE:
        u = case.main_ohm * y[0] + L[0, 0] * d[0] + L[0, 1] * d[1] + L[0, 2] * d[2]
    auxiliary_v = case.auxiliary_ohm * y[1] + L[1, 0] * d[0] + L[1, 1] * d[1] + L[1, 2] * d[2] + L[1, 3] * d[3]
    values[0] = u
    values[1] = u - auxiliary_v  # with the auxiliary open: what stands where the capacitor was
    values[2] = y[0] + y[1] + u / case.core_ohm if closed & LINE else 0.0
    values[3] = y[1]


@compiled
def _settled(number: float) -> float:
    """Nothing, once so little is left: numbers that die away for ever become slow to compute."""
    return number if abs(number) > 1e-12 else 0.0


@compiled
def _run(
    cases: Any, states: Any, first: int, rate_hz: float, steps: int,
    values: Any, speed: Any, torque: Any, angle: Any, edge_times: Any, edge_states: Any, edge_counts: Any,
) -> None:  # fmt: skip
    h = 1.0 / (rate_hz * steps)
    for c in range(cases.shape[0]):
        case, kept = cases[c], states[c]
        s = kept.y
        y = (s[0], s[1], s[2], s[3], s[4], 0.0 if case.held else s[5], s[6])
        closed, phase, edges = kept.closed | case.closed, kept.phase_rad, 0
        half_turn = floor(y[6] / pi)
        for n in range(speed.shape[1]):
            _measured(case, closed, phase, y, values[c, :, n])
            speed[c, n], torque[c, n], angle[c, n] = y[5], _torque(case, y), y[6]
            for k in range(steps):
                after = _stepped(case, closed, phase, y, h)
                if closed & ~case.closed:
                    closed, after = _opened(case, closed, phase, y, after, h)
                half_turn_after = floor(after[6] / pi)
                if half_turn_after != half_turn:
                    part = (max(half_turn, half_turn_after) * pi - y[6]) / (after[6] - y[6])
                    edge_times[c, edges] = (first + n) / rate_hz + (k + part) * h
                    edge_states[c, edges] = 1 - half_turn_after % 2
                    edges, half_turn = edges + 1, half_turn_after
                y = after
                phase = (phase + h * case.mains_rad_s) % (2.0 * pi)
            y = (_settled(y[0]), _settled(y[1]), _settled(y[2]), _settled(y[3]), _settled(y[4]), _settled(y[5]), y[6])
        for k in range(7):
            kept.y[k] = y[k]
        kept.phase_rad, kept.closed, edge_counts[c] = phase, closed, edges


def advance(cases: Any, states: Any, first: int, samples: int, rate_hz: float, steps: int) -> Block:
    """The next `samples` samples of all cases, the first of them number `first`; changes `states`.

    `cases` (cases,) of CONSTANTS, `states` (cases,) of STATE.
    """
    block = empty_block(len(cases), len(SIGNALS), samples, steps)
    _run(
        cases, states, first, rate_hz, steps, block.values, block.speed_rad_s, block.torque_n_m, block.angle_rad,
        block.edge_times_s, block.edge_states, block.edge_counts,
    )  # fmt: skip
    return block
