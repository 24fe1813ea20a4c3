"""The loop of synchronous motors: contacts that close and part, shaft pulses, heat, rest angle.

The equations stand in synchronous_field.py. A contact parts at the zero of its current, found inside the step; where
none comes, on direct current, after 20 ms (what the arc takes is lost). Exchanged leads and the rest angle take hold
while the line is open and nothing moves. The shaft pulse is high in the half turn around angle 0, where the rotor
stands first. May assume constants made by its motor.
"""

from math import floor, pi, sin
from typing import Any

import numpy as np

from simulator.motors.synchronous_field import (
    AUXILIARY,
    LINE,
    Linked,
    Mode,
    closed_on,
    linked,
    measured,
    stepped,
)
from simulator.physics.index_pulse import AROUND_ZERO, pulsed
from simulator.physics.load import load_n_m
from simulator.physics.mains import LONGEST_ARC_S, flickered, mains_v
from simulator.physics.shaft import held_still
from simulator.physics.stepping import compiled, inlined, settled, turned_on
from simulator.physics.warmth import resistance_factor, warmed

SIGNALS = ("supply_v", "capacitor_v", "line_a", "auxiliary_a")
TRUTHS = ("winding_c", "case_c", "load_n_m", "line_closed", "auxiliary_closed")


@inlined
def _contact_a(contact: int, s: float, now: Linked) -> float:
    return now[0] + s * now[1] if contact == LINE else now[1]


@compiled
def _parting(s: float, parts: int, arc_s: float, before: Linked, after: Linked) -> tuple[float, int]:
    """The share of the step at which the first of the contacts `parts` parts, and its bit; 2 and 0 if none does."""
    share, parting = 2.0, 0
    for contact in (LINE, AUXILIARY):
        if parts & contact:
            i, j = _contact_a(contact, s, before), _contact_a(contact, s, after)
            at_zero = abs(i) < 1e-12
            if at_zero or i * j <= 0.0 or arc_s > LONGEST_ARC_S:
                zero = i / (i - j) if not at_zero and i * j <= 0.0 else 0.0
                if zero < share:
                    share, parting = zero, contact
    return share, parting


@compiled
def _field_j(case: Any, s: float, now: Linked, theta: float) -> float:
    """Energy of the windings' own fields and the supply's."""
    double = 2.0 * theta
    mm, xx = case.mean_h + case.swing_h * np.cos(double), case.mean_h - case.swing_h * np.cos(double)
    line_a = now[0] + s * now[1]
    own = mm * now[0] * now[0] + xx * now[1] * now[1] + 2.0 * case.swing_h * np.sin(double) * now[0] * now[1]
    return float(0.5 * (own + case.mains.source_h * line_a * line_a))


@compiled
def _woken(case: Any, s: Any) -> None:
    """What a change of controls does at once."""
    if s.closed & LINE == 0 and case.wanted & LINE:
        s.phase_rad = case.mains.switching_rad
    held_still(case.load, s)
    if s.elastance_per_f != case.elastance_per_f:
        if s.elastance_per_f > 0.0:  # the voltage stays, the charge that this takes is lost
            s.energy_j[1] += 0.5 * (1.0 / s.elastance_per_f - 1.0 / case.elastance_per_f) * s.y[4] ** 2
        s.elastance_per_f = case.elastance_per_f
    y = (s.y[0], s.y[1], s.y[2], s.y[3], s.y[4])
    now, rearranged = linked(case, (s.closed, s.sense, 0.0, s.source_h), case.pole_pairs * s.angle_rad, y), False
    if s.source_h != case.mains.source_h:  # the current stays; who changes the coil brings its energy
        line_a, more_h = now[0] + s.sense * now[1], case.mains.source_h - s.source_h
        s.energy_j[0] += 0.5 * more_h * line_a * line_a
        s.source_h, rearranged = case.mains.source_h, True
    if s.closed & LINE == 0 and abs(s.speed_rad_s) < 1e-3 and abs(now[0]) < 1e-6 and abs(now[1]) < 1e-6:
        rearranged = rearranged or s.sense != case.sense or s.rest_rad != case.rest_rad
        s.sense = case.sense
        if s.rest_rad != case.rest_rad:
            # The same electrical angle within this half turn: poles repeat, so no edge is passed.
            apart, half_turn = 2.0 * pi / case.pole_pairs, floor(s.angle_rad / pi + 0.5)
            least = (half_turn - 0.5) * pi
            s.angle_rad = case.rest_rad / case.pole_pairs
            s.angle_rad += np.ceil((least - s.angle_rad) / apart) * apart
            s.rest_rad = case.rest_rad
            now = linked(case, (0, s.sense, 0.0, s.source_h), case.pole_pairs * s.angle_rad, y)
    if case.wanted & ~s.closed or rearranged:
        y = closed_on(case, (s.closed, s.sense, 0.0, s.source_h), y, now)
        for k in range(5):
            s.y[k] = y[k]
    s.closed |= case.wanted
    if s.closed == case.wanted:  # an opening that was taken back leaves no arc
        s.arc_s = 0.0


@compiled
def fields_j(case: Any, s: Any) -> float:
    """Energy in windings, supply and cage."""
    y, theta = (s.y[0], s.y[1], s.y[2], s.y[3], s.y[4]), case.pole_pairs * s.angle_rad
    stored = _field_j(case, s.sense, linked(case, (s.closed, s.sense, 0.0, s.source_h), theta, y), theta)
    for k in range(2):
        if case.cage_h[k] > 0.0:
            stored += 0.5 * y[2 + k] ** 2 / case.cage_h[k]
    return float(stored)


@compiled
def run(
    cases: Any, states: Any, first: int, rate_hz: float, steps: int, values: Any, speed: Any, torque: Any, angle: Any,
    truths: Any, edge_times: Any, edge_states: Any, edge_counts: Any,
) -> None:  # fmt: skip
    """See motor.py."""
    h, sample_s = 1.0 / (rate_hz * steps), 1.0 / rate_hz
    energy, probe = np.zeros(5), np.zeros(5)
    for number in range(cases.shape[0]):
        case, s = cases[number], states[number]
        load, mains = case.load, case.mains
        _woken(case, s)
        phase, flicker, swing_rad, edges = s.phase_rad, s.flicker_rad, s.swing_rad, 0
        closed, sense, arc_s, winding_c, case_c = s.closed, s.sense, s.arc_s, s.winding_c, s.case_c
        y = (s.y[0], s.y[1], s.y[2], s.y[3], s.y[4])
        shaft = (s.speed_rad_s, s.angle_rad, s.slope_rad_s2)
        for k in range(3):
            energy[k] = s.energy_j[k]
        times, levels = edge_times[number], edge_states[number]
        for n in range(speed.shape[1]):
            amplitude = flickered(mains, flicker) if mains.flicker != 0.0 else 1.0
            swing = sin(swing_rad) if load.swing_n_m != 0.0 else 0.0
            ohm = case.winding_ohm * resistance_factor(case.warmth, winding_c)
            mode: Mode = (closed, sense, ohm, mains.source_h)
            u = mains_v(mains, phase, amplitude)
            speed[number, n], angle[number, n] = shaft[0], shaft[1]
            torque[number, n] = measured(case, mode, u, y, shaft, values[number, :, n])
            truths[number, 0, n], truths[number, 1, n] = winding_c, case_c
            truths[number, 2, n] = load_n_m(load, shaft[0], shaft[1], swing)
            truths[number, 3, n], truths[number, 4, n] = closed & LINE != 0, closed & AUXILIARY != 0
            energy[3], energy[4] = 0.0, 0.0
            for k in range(steps):
                before, part, parts = shaft[1], 0.0, closed & ~case.wanted
                if parts:
                    p = case.pole_pairs
                    after, later, _ = stepped(case, mode, u, phase, amplitude, swing, y, shaft, probe, h)
                    now, then = linked(case, mode, p * shaft[1], y), linked(case, mode, p * later[1], after)
                    part, parting = _parting(sense, parts, arc_s, now, then)
                    arc_s += h
                    if parting:
                        if part > 0.0:
                            y, shaft, u = stepped(case, mode, u, phase, amplitude, swing, y, shaft, energy, part * h)
                        theta = p * shaft[1]
                        field_j = _field_j(case, sense, linked(case, mode, theta, y), theta)
                        closed, arc_s = closed & ~parting, 0.0
                        mode = (closed, sense, ohm, mains.source_h)
                        energy[1] += field_j - _field_j(case, sense, linked(case, mode, theta, y), theta)
                    else:
                        part = 0.0
                if part < 1.0:
                    y, shaft, u = stepped(
                        case, mode, u, phase + part * h * mains.rad_s, amplitude, swing, y, shaft, energy,
                        (1.0 - part) * h,
                    )  # fmt: skip
                phase = turned_on(phase, h * mains.rad_s)
                edges = pulsed(
                    AROUND_ZERO, before, shaft[1], (first + n) / rate_hz + k * h, h, times, levels, edges
                )  # fmt: skip
            winding_c, case_c = warmed(
                case.warmth, winding_c, case_c, energy[3] * rate_hz, energy[4] * rate_hz, sample_s
            )  # fmt: skip
            y = (y[0], y[1], settled(y[2]), settled(y[3]), settled(y[4]))
            shaft = (settled(shaft[0]), shaft[1], shaft[2])
            flicker = turned_on(flicker, mains.flicker_rad_s * sample_s)
            swing_rad = turned_on(swing_rad, load.swing_rad_s * sample_s)
        for k in range(5):
            s.y[k] = y[k]
        for k in range(3):
            s.energy_j[k] = energy[k]
        s.speed_rad_s, s.angle_rad, s.slope_rad_s2 = shaft
        s.phase_rad, s.flicker_rad, s.swing_rad, s.winding_c, s.case_c = phase, flicker, swing_rad, winding_c, case_c
        s.closed, s.arc_s, edge_counts[number] = closed, arc_s, edges
