"""The loop of single-phase induction motors: contacts, energy, warmth and edges around single_phase.py.

Wiring (auxiliary leads swapped, capacitor in the main lead) takes hold while the line is open and no current flows. A
switch closes at its angle. Where the capacitor's channel sits: see single_phase_motor.py. The shaft pulse is high for
the first half of each turn. Energy is the trapezoid of the powers at the ends of each step. May assume constants made
by its motor; never draws a random number: chatter comes from draws that stand in the state.
"""

from math import pi, sin
from typing import Any

from simulator.motors.single_phase import (
    AUXILIARY,
    LINE,
    RUN,
    START,
    Circuit,
    Y,
    branches,
    circuit,
    first_zero,
    magnetic_j,
    parted,
    powers_w,
    slopes,
    stepped,
    torque_n_m,
)  # fmt: skip
from simulator.motors.start_device import PTC, RELAY, cutout_closed, ptc_ohm, start_closed, warmed_ptc
from simulator.physics.index_pulse import FROM_ZERO, pulsed
from simulator.physics.load import load_n_m
from simulator.physics.mains import LONGEST_ARC_S, flickered, mains_v
from simulator.physics.shaft import held_still, turned
from simulator.physics.stepping import compiled, settled
from simulator.physics.warmth import warmed

SIGNALS = ("supply_v", "capacitor_v", "line_a", "auxiliary_a")
TRUTHS = ("start_circuit_closed", "cutout_closed", "winding_c", "case_c", "start_capacitor_v", "load_n_m")


@compiled
def _measured(case: Any, z: Circuit, u: float, we: float, y: Y, ptc: float, values: Any) -> float:
    """Fill `values` (4,) with what the channels see; return the voltage across an open capacitor's place (V)."""
    d = slopes(z, u, we, y)
    through, branch_v, start = branches(z, y)
    closed = z.closed & LINE != 0
    cage_m, cage_x = z.coupling * d[2], z.coupling * (z.cos * d[2] + z.sin * d[3])
    line_a, line_slope = y[0] + z.sign * y[1], d[0] + z.sign * d[1]
    main_v = z.main_ohm * y[0] + case.stator_h[0] * d[0] + case.stator_h[1] * d[1] + cage_m
    auxiliary_v = z.auxiliary_ohm * y[1] + case.stator_h[1] * d[0] + case.stator_h[2] * d[1] + cage_x
    if closed:
        terminal_v = u - z.source_ohm * line_a - case.mains.source_h * line_slope
    elif z.in_main and z.closed & (START | RUN) == 0:
        terminal_v = z.sign * auxiliary_v
    else:
        terminal_v = main_v + (branch_v if z.in_main else 0.0)
    gap_v = terminal_v - main_v if z.in_main else z.sign * terminal_v - auxiliary_v
    if z.closed & AUXILIARY == 0 and not z.in_main:
        gap_v = 0.0
    if case.across == RUN:
        across_v = y[5] + case.run_ohm * (through - start)
        if z.closed & RUN == 0:
            across_v = branch_v if z.closed & START != 0 else gap_v
    elif z.closed & START != 0:
        across_v = y[4] + case.start_ohm * start
    else:
        across_v = gap_v if case.start_f == 0.0 or case.start_broken != 0 else y[4]
    leak_a = gap_v / ptc if ptc > 0.0 and z.closed & START == 0 else 0.0
    core_v = terminal_v - case.mains.direct_v
    values[0], values[1] = terminal_v, across_v
    values[2] = line_a + z.sign * leak_a + core_v / case.core_ohm if closed else 0.0
    values[3] = y[1] + leak_a
    return gap_v if leak_a != 0.0 else 0.0


@compiled
def _woken(case: Any, s: Any) -> None:
    """What a change of controls does at once: switch, wiring, jam, another capacitor or supply."""
    on = case.wanted & LINE != 0
    if s.closed & LINE == 0 and abs(s.y[0]) < 1e-6 and abs(s.y[1]) < 1e-6:
        s.sign, s.in_main = case.sign, case.in_main
    if on and s.switched == 0 and s.closed & LINE == 0:
        s.phase_rad = case.mains.switching_rad
    s.switched = on
    if s.device != case.device:
        s.device, s.moved, s.start_wanted = case.device, 0, case.device != RELAY
    if case.stuck != 0:
        s.start_wanted = case.stuck > 0
    if case.cutout_fitted == 0:
        s.cutout = 1
    held_still(case.load, s)
    if s.source_h != case.mains.source_h:  # the current stays; who changes the coil brings its energy
        s.energy_j[0] += 0.5 * (case.mains.source_h - s.source_h) * (s.y[0] + s.sign * s.y[1]) ** 2
        s.source_h = case.mains.source_h
    for k in range(2):
        farad = case.start_f if k == 0 else case.run_f
        if s.farads[k] != farad:
            s.energy_j[1] += 0.5 * (s.farads[k] - farad) * s.y[4 + k] ** 2
            s.farads[k] = farad
            if farad == 0.0:
                s.y[4 + k] = 0.0


@compiled
def _wanted(case: Any, s: Any) -> int:
    """The contacts that are to be closed, as switches, start device and cut-out stand."""
    wanted = case.wanted
    if s.start_wanted == 0:
        wanted &= ~START
    if s.cutout == 0:
        wanted &= ~LINE
    return int(wanted)


@compiled
def _opened(
    case: Any, s: Any, z: Circuit, wanted: int, amplitude: float, extra_ohm: float, phase: float, we: float, y: Y,
    after: Y, h: float,
) -> tuple[Circuit, Y, float]:  # fmt: skip
    """The step anew if a contact that is to open parts in it: the circuit, what comes after, the energy of an arc."""
    mains = case.mains
    parting, share = first_zero(z, wanted, y, after)
    if parting == 0:
        s.waited_s += h
        if s.waited_s < LONGEST_ARC_S:
            return z, after, 0.0
        open_too = z.closed & ~wanted
        parting, share = open_too & -open_too, 1.0
    s.waited_s = 0.0
    at, there = phase + share * h * mains.rad_s, phase + h * mains.rad_s
    u, u_at, u_after = mains_v(mains, phase, amplitude), mains_v(mains, at, amplitude), mains_v(mains, there, amplitude)
    y = stepped(z, u, mains_v(mains, 0.5 * (phase + at), amplitude), u_at, we, y, share * h)
    arc_j = magnetic_j(z, y)
    z = circuit(case, s, z.closed & ~parting, extra_ohm, h)
    y = parted(z, y)
    arc_j -= magnetic_j(z, y)
    middle = mains_v(mains, 0.5 * (at + there), amplitude)
    return z, stepped(z, u_at, middle, u_after, we, y, (1.0 - share) * h), arc_j


@compiled
def run(
    cases: Any, states: Any, first: int, rate_hz: float, steps: int,
    values: Any, speed: Any, torque: Any, angle: Any, truths: Any, edge_times: Any, edge_states: Any, edge_counts: Any,
) -> None:  # fmt: skip
    """The loop of `Model.run`."""
    h, interval_s = 1.0 / (rate_hz * steps), 1.0 / rate_hz
    for c in range(cases.shape[0]):
        case, s = cases[c], states[c]
        mains, load = case.mains, case.load
        _woken(case, s)
        w, at, slope, phase, closed, edges = s.speed_rad_s, s.angle_rad, s.slope_rad_s2, s.phase_rad, s.closed, 0
        y = (s.y[0], s.y[1], s.y[2], s.y[3], s.y[4], s.y[5])
        flicker, swing_rad, step_rad = s.flicker_rad, s.swing_rad, h * mains.rad_s
        given, lost, shaft = s.energy_j[0], s.energy_j[1], s.energy_j[2]
        times, levels = edge_times[c], edge_states[c]
        extra_ohm = ptc_ohm(case, s) if case.device == PTC else 0.0
        wanted = _wanted(case, s)
        z = circuit(case, s, closed | wanted, extra_ohm, h)
        for n in range(speed.shape[1]):
            amplitude = flickered(mains, flicker) if mains.flicker != 0.0 else 1.0
            swing = sin(swing_rad) if load.swing_n_m != 0.0 else 0.0
            if case.device == PTC or case.warmth.resistance_follows != 0:
                extra_ohm = ptc_ohm(case, s) if case.device == PTC else 0.0
                z = circuit(case, s, z.closed, extra_ohm, h)
            u, pull = mains_v(mains, phase, amplitude), torque_n_m(case, y)
            gap_v = _measured(case, z, u, case.pole_pairs * w, y, extra_ohm, values[c, :, n])
            speed[c, n], torque[c, n], angle[c, n] = w, pull, at
            truths[c, 0, n] = z.closed & AUXILIARY != 0 and z.closed & case.starts != 0
            truths[c, 1, n], truths[c, 2, n], truths[c, 3, n] = s.cutout, s.winding_c, s.case_c
            truths[c, 4, n], truths[c, 5, n] = y[4], load_n_m(load, w, at, swing)
            power = powers_w(z, u, y)
            winding_j, cage_j, rest_j, own_j = 0.0, 0.0, 0.0, 0.0
            for k in range(steps):
                middle = mains_v(mains, phase + 0.5 * step_rad, amplitude)
                u_after = mains_v(mains, phase + step_rad, amplitude)
                we = case.pole_pairs * (w + 0.5 * h * slope)
                after = stepped(z, u, middle, u_after, we, y, h)
                if z.closed & ~wanted != 0:
                    z, after, arc_j = _opened(case, s, z, wanted, amplitude, extra_ohm, phase, we, y, after, h)
                    rest_j += arc_j
                else:  # also after an opening that was taken back
                    s.waited_s = 0.0
                y, u, pull_before = after, u_after, pull
                pull = torque_n_m(case, y)
                w_before, at_before = w, at
                w, own_w, shaft_w = turned(load, 0.5 * (pull_before + pull) + case.push_n_m, w, at, swing, h)
                at += 0.5 * h * (w_before + w)
                slope = (w - w_before) / h
                shaft += h * (shaft_w - 0.5 * case.push_n_m * (w_before + w))
                then, half = powers_w(z, u, y), 0.5 * h
                given += half * (power[0] + then[0])
                winding_j += half * (power[1] + then[1])
                cage_j += half * (power[2] + then[2])
                rest_j += half * (power[3] + then[3])
                own_j += h * own_w
                power = then
                edges = pulsed(FROM_ZERO, at_before, at, (first + n) / rate_hz + k * h, h, times, levels, edges)
                phase += step_rad
                wrapped = phase >= 2.0 * pi
                if wrapped:
                    phase -= 2.0 * pi
                if case.device != 0:
                    s.start_wanted = start_closed(case, s, z.closed & START != 0, w, y[0], wrapped, h)
                    wanted = _wanted(case, s)
                    if wanted & ~z.closed != 0:
                        z = circuit(case, s, z.closed | wanted, extra_ohm, h)
                        power = powers_w(z, u, y)
            core_v = values[c, 0, n] - mains.direct_v
            core_j = interval_s * core_v * core_v / case.core_ohm if z.closed & LINE != 0 else 0.0
            leak_j = interval_s * gap_v * gap_v / extra_ohm if gap_v != 0.0 else 0.0
            given += core_j + leak_j
            lost += winding_j + cage_j + rest_j + own_j + core_j + leak_j
            s.winding_c, s.case_c = warmed(
                case.warmth, s.winding_c, s.case_c, winding_j * rate_hz, (cage_j + core_j + own_j) * rate_hz, interval_s
            )  # fmt: skip
            if case.device == PTC:
                warmed_ptc(case, s, branches(z, y)[2], gap_v, extra_ohm, interval_s)
            if case.cutout_fitted != 0 and cutout_closed(case, s) != s.cutout:
                s.cutout = 1 - s.cutout
                wanted = _wanted(case, s)
                z = circuit(case, s, z.closed | wanted, extra_ohm, h)
            y = (settled(y[0]), settled(y[1]), settled(y[2]), settled(y[3]), settled(y[4]), settled(y[5]))
            w = settled(w)
            flicker = (flicker + mains.flicker_rad_s / rate_hz) % (2.0 * pi)
            swing_rad = (swing_rad + load.swing_rad_s / rate_hz) % (2.0 * pi)
        for k in range(6):
            s.y[k] = y[k]
        s.speed_rad_s, s.angle_rad, s.slope_rad_s2, s.phase_rad, s.closed = w, at, slope, phase, z.closed
        s.flicker_rad, s.swing_rad, edge_counts[c] = flicker, swing_rad, edges
        s.energy_j[0], s.energy_j[1], s.energy_j[2] = given, lost, shaft
