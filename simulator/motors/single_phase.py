"""Equations of the single-phase induction motor with two windings, and one step of them; the loop: single_phase_run.py.

Stationary two-axis frame. Windings m (main, axis 0) and x (auxiliary, at angle g, turns ratio a), cage r referred to
the main winding, psi = L i:

    L = [ Llm+LM      a cos g LM      LM            0
          a cos g LM  Llx + a^2 LM    a cos g LM    a sin g LM
          LM          a cos g LM      Llr+LM        0
          0           a sin g LM      0             Llr+LM ]
    dpsi_m/dt  = u_m - Rm i_m                       dpsi_x/dt  = sign u_m - u_b - Rx i_x
    dpsi_ra/dt = -Rr i_ra - p w psi_rb              dpsi_rb/dt = -Rr i_rb + p w psi_ra
    T = p LM (i_ra a sin g i_x - i_rb (i_m + a cos g i_x));   dw/dt: load.py, shaft.py
    line current i_m + sign i_x + u/Rfe,   u_m = u - Rs (i_m + sign i_x) - Ls d(i_m + sign i_x)/dt

sign: 1, -1 with the auxiliary's leads swapped, 0 for a short-circuited ring (shaded pole). Behind the auxiliary stand
two branches in parallel, start (behind its contact) and run; each is a capacitor with its ESR, or a wire:

    u_b = u_Cs + R_s i_s = u_Cr + R_r (i_x - i_s),   du_Cs/dt = i_s / C_s,   du_Cr/dt = (i_x - i_s) / C_r

With the capacitor in the wrong lead u_b stands in the main winding's equation, with i_m for i_x.

The states are the currents of both windings and the linkages of the cage. With L' = L_ss - L_sr Lr^-1 L_rs, what is
left of the stator's inductances at constant cage linkage,

    L' d(i_m, i_x)/dt = e,   e = u - R i - L_sr Lr^-1 dpsi_r/dt

What is open takes freedom away: i = S j with fewer j. With the auxiliary open i_x = 0; with the line open and the
auxiliary not, both windings are one loop, i_x = -sign i_m. For each connection

    di/dt = G e,   G = S (S' L' S)^-1 S'

holds, the terms of an open circuit falling out by themselves, and a contact that parts keeps the linkages of what stays
closed: i := G L' i. Contacts close at once and part at the zero of their current, found inside the step; a direct
current has no zero: its arc ends after 20 ms (assumed).

Integrator: Runge-Kutta of fourth order for currents, linkages and capacitors, at the speed of the middle of the step;
shaft.py with the mean torque. Two capacitors balance in one step at the earliest: the energy lost in it is the same.
Left out: saturation, space harmonics (a shaded pole's dip near a third of the speed), the core's current in the
supply's impedance and on direct voltage. May assume constants made by its motor; never checks them.
"""

from typing import Any, NamedTuple, TypeAlias

from simulator.physics.stepping import compiled
from simulator.physics.warmth import cage_factor, resistance_factor

LINE, AUXILIARY, START, RUN = 1, 2, 4, 8  # contacts: bits of what is closed
LEAST_OHM = 1e-3  # between both capacitors
Y: TypeAlias = tuple[float, float, float, float, float, float]


class Circuit(NamedTuple):
    """What is connected now, with resistances as warm as they are."""

    closed: int
    sign: float
    in_main: bool
    L_mm: float  # L' with the supply's inductance
    L_mx: float
    L_xx: float
    G_mm: float
    G_mx: float
    G_xx: float
    main_ohm: float
    auxiliary_ohm: float
    rotor_ohm: float
    source_ohm: float
    coupling: float  # LM / Lr
    rotor_per_h: float
    cos: float
    sin: float
    share: float  # of the branches' current that takes the start branch
    balance: float  # A/V between both capacitors
    branch_ohm: float
    start_per_f: float
    run_per_f: float


@compiled
def circuit(case: Any, s: Any, closed: int, start_ohm: float, h: float) -> Circuit:
    """The circuit for these closed contacts; `start_ohm` is what the start device adds."""
    sign, Ls = s.sign, case.mains.source_h
    L_mm, L_mx, L_xx = case.stator_h[0] + Ls, case.stator_h[1] + sign * Ls, case.stator_h[2] + sign * sign * Ls
    branch = closed & (START | RUN) != 0
    main = branch or s.in_main == 0
    auxiliary = closed & AUXILIARY != 0 and (branch or s.in_main != 0)
    G_mm, G_mx, G_xx = 0.0, 0.0, 0.0
    if closed & LINE != 0 and main and auxiliary:
        det = L_mm * L_xx - L_mx * L_mx
        G_mm, G_mx, G_xx = L_xx / det, -L_mx / det, L_mm / det
    elif closed & LINE != 0 and main:
        G_mm = 1.0 / L_mm
    elif auxiliary and (closed & LINE != 0 or sign == 0.0):
        G_xx = 1.0 / L_xx
    elif main and auxiliary:
        G_mm = 1.0 / (L_mm - 2.0 * sign * L_mx + L_xx)
        G_mx, G_xx = -sign * G_mm, G_mm
    Rs, Rr = case.start_ohm + start_ohm, max(case.run_ohm, LEAST_OHM)
    start_per_f = 1.0 / case.start_f if case.start_f > 0.0 else 0.0
    run_per_f = 1.0 / case.run_f if case.run_f > 0.0 else 0.0
    share, balance, ohm = 0.0, 0.0, Rr
    if closed & START != 0:
        share, ohm = 1.0, Rs
        if closed & RUN != 0:
            share, balance, ohm = Rr / (Rs + Rr), 1.0 / (Rs + Rr), Rs * Rr / (Rs + Rr)
            both_per_f = start_per_f + run_per_f
            slowed = 1.0 / (h * both_per_f * balance) if both_per_f > 0.0 else 1.0
            if slowed < 1.0:  # as the step can follow; what is slow sees the same resistance and the same shares
                shift = share - run_per_f / both_per_f
                share -= shift * (1.0 - slowed)
                ohm += shift * shift * (1.0 - slowed) / balance
                balance *= slowed
    if closed & RUN == 0:
        run_per_f = 0.0
    copper = resistance_factor(case.warmth, s.winding_c)
    return Circuit(
        closed, sign, s.in_main != 0, L_mm, L_mx, L_xx, G_mm, G_mx, G_xx,
        case.main_ohm * copper, case.auxiliary_ohm * copper, case.rotor_ohm * cage_factor(case.warmth, s.winding_c),
        case.mains.source_ohm, case.magnetizing_h / case.rotor_h, 1.0 / case.rotor_h, case.turns_cos, case.turns_sin,
        share, balance, ohm, start_per_f, run_per_f,
    )  # fmt: skip


@compiled
def branches(z: Circuit, y: Y) -> tuple[float, float, float]:
    """Current and voltage of both branches together, and the current of the start branch."""
    current = y[0] if z.in_main else y[1]
    start = z.share * current + z.balance * (y[5] - y[4])
    return current, z.share * y[4] + (1.0 - z.share) * y[5] + z.branch_ohm * current, start


@compiled
def slopes(z: Circuit, u: float, we: float, y: Y) -> Y:
    """d/dt of the state; `u` is the source's voltage, `we` = p w."""
    im, ix, psi_a, psi_b, _, _ = y
    through, branch_v, start = branches(z, y)
    da = z.rotor_ohm * (z.coupling * (im + z.cos * ix) - z.rotor_per_h * psi_a) - we * psi_b
    db = z.rotor_ohm * (z.coupling * z.sin * ix - z.rotor_per_h * psi_b) + we * psi_a
    um = u - z.source_ohm * (im + z.sign * ix)
    em = um - z.main_ohm * im - z.coupling * da
    ex = z.sign * um - z.auxiliary_ohm * ix - z.coupling * (z.cos * da + z.sin * db)
    if z.in_main:
        em -= branch_v
    else:
        ex -= branch_v
    return (
        z.G_mm * em + z.G_mx * ex, z.G_mx * em + z.G_xx * ex, da, db,
        z.start_per_f * start, z.run_per_f * (through - start),
    )  # fmt: skip


@compiled
def _moved(y: Y, d: Y, h: float) -> Y:
    return y[0] + h * d[0], y[1] + h * d[1], y[2] + h * d[2], y[3] + h * d[3], y[4] + h * d[4], y[5] + h * d[5]


@compiled
def stepped(z: Circuit, u: float, u_middle: float, u_after: float, we: float, y: Y, h: float) -> Y:
    """One Runge-Kutta step of fourth order."""
    a = slopes(z, u, we, y)
    b = slopes(z, u_middle, we, _moved(y, a, 0.5 * h))
    c = slopes(z, u_middle, we, _moved(y, b, 0.5 * h))
    d = slopes(z, u_after, we, _moved(y, c, h))
    sixth = h / 6.0
    return (
        y[0] + sixth * (a[0] + 2.0 * (b[0] + c[0]) + d[0]),
        y[1] + sixth * (a[1] + 2.0 * (b[1] + c[1]) + d[1]),
        y[2] + sixth * (a[2] + 2.0 * (b[2] + c[2]) + d[2]),
        y[3] + sixth * (a[3] + 2.0 * (b[3] + c[3]) + d[3]),
        y[4] + sixth * (a[4] + 2.0 * (b[4] + c[4]) + d[4]),
        y[5] + sixth * (a[5] + 2.0 * (b[5] + c[5]) + d[5]),
    )


@compiled
def _contact_a(z: Circuit, contact: int, y: Y) -> float:
    through, _, start = branches(z, y)
    if contact == LINE:
        return y[0] + z.sign * y[1]
    if contact == AUXILIARY:
        return y[1]
    return start if contact == START else through - start


@compiled
def torque_n_m(case: Any, y: Y) -> float:
    """T at the air gap, from the cage's linkages: those of its own currents with themselves make none."""
    main_axis, across = y[0] + case.turns_cos * y[1], case.turns_sin * y[1]
    return float(case.pole_pairs * case.magnetizing_h / case.rotor_h * (y[2] * across - y[3] * main_axis))


@compiled
def powers_w(z: Circuit, u: float, y: Y) -> tuple[float, float, float, float]:
    """From the source (core left out), and lost: in windings, in the cage, in capacitors, start device and supply."""
    line = y[0] + z.sign * y[1] if z.closed & LINE != 0 else 0.0
    cage_a = z.rotor_per_h * y[2] - z.coupling * (y[0] + z.cos * y[1])
    cage_b = z.rotor_per_h * y[3] - z.coupling * z.sin * y[1]
    through, apart = y[0] if z.in_main else y[1], y[5] - y[4]
    return (
        u * line,
        z.main_ohm * y[0] * y[0] + z.auxiliary_ohm * y[1] * y[1],
        z.rotor_ohm * (cage_a * cage_a + cage_b * cage_b),
        z.branch_ohm * through * through + z.balance * apart * apart + z.source_ohm * line * line,
    )


@compiled
def first_zero(z: Circuit, wanted: int, y: Y, after: Y) -> tuple[int, float]:
    """The contact that parts first within a step, and the share of the step before it; 0 if none does."""
    share, parting = 2.0, 0
    for k in range(4):
        contact = 1 << k
        if z.closed & ~wanted & contact:
            before_a, after_a = _contact_a(z, contact, y), _contact_a(z, contact, after)
            if before_a == 0.0 or before_a * after_a <= 0.0:
                zero = 0.0 if before_a == 0.0 else before_a / (before_a - after_a)
                if zero < share:
                    share, parting = zero, contact
    return parting, share


@compiled
def parted(z: Circuit, y: Y) -> Y:
    """The state after contacts have parted, `z` being what stays closed: its linkages are kept."""
    m, x = z.L_mm * y[0] + z.L_mx * y[1], z.L_mx * y[0] + z.L_xx * y[1]
    return z.G_mm * m + z.G_mx * x, z.G_mx * m + z.G_xx * x, y[2], y[3], y[4], y[5]


@compiled
def magnetic_j(z: Circuit, y: Y) -> float:
    """Energy in the fields of windings, cage and supply."""
    stator = z.L_mm * y[0] * y[0] + 2.0 * z.L_mx * y[0] * y[1] + z.L_xx * y[1] * y[1]
    return 0.5 * (stator + z.rotor_per_h * (y[2] * y[2] + y[3] * y[3]))
