"""Equations of commutator motors with one current (series field or magnets), and the loop that steps them.

    L di/dt = u - R(theta) i - e(theta) k(i) w - U_b tanh(i / 0.05 A)
    T = e(theta) k(i) i;   J dw/dt = T - friction - load (load.py)
    k(i) = k_pm + s (K_max i / (|i| + I_s) + K_res tanh(i / 0.05 A))
    R(theta) = R (1 + d_R cos c theta) + bad bar,   e(theta) = 1 + d_E cos c theta,   c = lcm(bars, poles)

k_pm: magnets; K_max, I_s: a series field that saturates, so that K_max i / (|i| + I_s) is kphi(|i|) sgn i; K_res: its
residual flux; s = -1 with the ends of the field or of the armature exchanged. A bad bar adds resistance while it
passes a brush, 1/bars of a turn: in full at the first brush, 0.6 of that at the others (assumed: no two brushes
sit alike, so there is a line at n/60). Worn brushes add resistance and contact ripple. L and R hold what is in
series: lead and supply (direct.py). Torque carries the ripple of the EMF, so that no energy comes from nowhere.

Integrator: linearly implicit midpoint, second order: no lag between u and i; flux and brush drop follow with
their slopes at the beginning of the step. A current that may flow one way only ends at its zero inside the step, and
a step is split where a triac fires. Left out: iron loss, armature reaction, reactance of commutation, higher
orders of the ripple, magnets that weaken with heat. May assume constants made by its motor.
"""

from math import cos, floor, pi, sin
from typing import Any, TypeAlias

import numpy as np

from simulator.physics.brush import BRUSH_A, brush_contact
from simulator.physics.direct import (
    DIRECT,
    FULL_WAVE,
    SUPPLY,
    charging,
    drawn_a,
    gated,
    mains_side_v,
    offered,
    source_v,
    until_gated,
)
from simulator.physics.index_pulse import FROM_ZERO, pulsed
from simulator.physics.load import LOAD, load_n_m
from simulator.physics.mains import flickered
from simulator.physics.shaft import held_still, turned
from simulator.physics.stepping import compiled, inlined, settled, turned_on
from simulator.physics.warmth import WARMTH, resistance_factor, warmed

SIGNALS = ("terminal_v", "motor_a", "supply_v", "supply_a")
TRUTHS = ("winding_c", "case_c", "load_n_m")
OTHER_BRUSHES = 0.6
BRUSHES = (
    ("brush_v", "f8"),
    ("brush_ohm", "f8"),
    ("ripples", "f8"),  # c
    ("contact_ripple", "f8"),
    ("emf_ripple", "f8"),
    ("bars", "f8"),
    ("poles", "f8"),
    ("bad_bar_ohm", "f8"),
)
CONSTANTS = np.dtype(
    [
        *BRUSHES,
        ("supply", SUPPLY),
        ("load", LOAD),
        ("warmth", WARMTH),
        ("winding_ohm", "f8"),  # at 20 C
        ("lead_ohm", "f8"),
        ("winding_h", "f8"),
        ("magnet_v_s", "f8"),
        ("field_v_s", "f8"),  # s K_max
        ("saturation_a", "f8"),
        ("residual_v_s", "f8"),  # s K_res
    ]
)
STATE = np.dtype(
    [
        ("current_a", "f8"),
        ("speed_rad_s", "f8"),
        ("angle_rad", "f8"),
        ("slope_rad_s2", "f8"),  # of the speed in the last step
        ("capacitor_v", "f8"),
        ("capacitor_a", "f8"),
        ("charge_c", "f8"),
        ("phase_rad", "f8"),
        ("flicker_rad", "f8"),
        ("swing_rad", "f8"),
        ("winding_c", "f8"),
        ("case_c", "f8"),
        ("linked", "i8"),  # the line switch, or its arc, carries
        ("firing", "i8"),
        ("energy_j", "f8", 3),
    ]
)

# i, w, angle, slope of w, u_C, i_C, charge; input, lost, shaft; heat in the winding, in the case
_Y: TypeAlias = tuple[float, float, float, float, float, float, float, float, float, float, float, float]


@inlined
def _flux(case: Any, i: float) -> tuple[float, float, float]:
    """k(i), its slope, and tanh(i / 0.05 A)."""
    contact = brush_contact(i)
    flux, slope = case.magnet_v_s, 0.0
    if case.field_v_s != 0.0:
        whole = abs(i) + case.saturation_a
        flux += case.field_v_s * i / whole + case.residual_v_s * contact
        slope = case.field_v_s * case.saturation_a / (whole * whole)
        slope += case.residual_v_s * (1.0 - contact * contact) / BRUSH_A
    return flux, slope, contact


@inlined
def _passing(case: Any, angle: float) -> float:
    """Resistance of a bad bar under a brush."""
    turn = angle / (2.0 * pi)
    at = (turn - floor(turn)) * case.poles
    brush = floor(at)
    if at - brush >= case.poles / case.bars:
        return 0.0
    return float(case.bad_bar_ohm if brush == 0.0 else OTHER_BRUSHES * case.bad_bar_ohm)


@inlined
def contacts(case: Any, angle: float, copper: float) -> tuple[float, float]:
    """R(theta) with what worn brushes add, and e(theta); `copper` multiplies the winding's resistance at 20 C."""
    ohm, emf = case.winding_ohm * copper, 1.0
    if case.contact_ripple != 0.0 or case.emf_ripple != 0.0:
        turns = case.ripples * angle / (2.0 * pi)
        ripple = cos(2.0 * pi * (turns - floor(turns)))  # a small angle is quicker
        ohm *= 1.0 + case.contact_ripple * ripple
        emf += case.emf_ripple * ripple
    if case.bad_bar_ohm != 0.0:
        ohm += _passing(case, angle)
    return ohm + case.brush_ohm, emf


@inlined
def _current(
    case: Any, i: float, w: float, v: float, way: float, ohm: float, emf: float, link_ohm: float, h: float
) -> tuple[float, float, float, float, float]:
    """Current after the step, its mean, what the brushes drop, k(i), and the share of the step in which it flows.

    `link_ohm` stands for the voltage that a capacitor loses within the step.
    """
    flux, slope, contact = _flux(case, i)
    against = emf * w * flux
    if i == 0.0 and (way == 2.0 or (way != 0.0 and way * (v - against) <= 0.0)):
        return 0.0, 0.0, 0.0, 0.0, 1.0
    drop, stiff = case.brush_v * contact, case.brush_v * (1.0 - contact * contact) / BRUSH_A
    inductance = case.winding_h + case.supply.series_h
    whole_ohm = ohm + link_ohm
    change = h * (v - whole_ohm * i - against - drop)
    change /= inductance + 0.5 * h * (whole_ohm + emf * w * slope + stiff)
    after = i + change
    if way != 0.0 and way * after <= 0.0:
        share = i / (i - after) if i != after else 1.0
        return 0.0, 0.5 * i, drop - 0.5 * stiff * i, flux - 0.5 * slope * i, share
    change *= 0.5
    return after, i + change, drop + stiff * change, flux + slope * change, 1.0


@inlined
def _stepped(
    case: Any, linked: bool, firing: bool, phase: float, amplitude: float, swing: float, copper: float, y: _Y, h: float
) -> _Y:
    """One step; the switch and the triac stay as they are."""
    supply = case.supply
    i, w, angle, slope, cap_v, cap_a, charge, given, lost, shaft, winding, body = y
    middle = phase + 0.5 * h * supply.mains.rad_s
    u, gate = source_v(supply, middle, amplitude, charge), gated(supply, middle)
    outside_ohm = case.lead_ohm + supply.series_ohm
    ohm, emf = contacts(case, angle + 0.5 * h * w, copper)
    ohm += outside_ohm
    w_middle = w + 0.5 * h * slope
    if supply.smoothing_f > 0.0:
        half = 0.5 * h / supply.smoothing_f
        cap_a, charging_a, fed = charging(supply, u, gate, linked, cap_v, cap_a, h)
        v, taken_v, way = supply.way * (cap_v + half * charging_a), 0.0, 0.0
        i, mean, brush_v, flux, share = _current(case, i, w_middle, v, way, ohm, emf, half, h)
        cap_v += 2.0 * half * (charging_a - supply.way * mean)
        given += h * charging_a * (fed + supply.drop_v)
        lost += h * charging_a * (supply.drop_v + supply.charging_ohm * charging_a)
    else:
        v, taken_v, way = offered(supply, u, i, linked, firing, gate)
        i, mean, brush_v, flux, share = _current(case, i, w_middle, v, way, ohm, emf, 0.0, h)
        given += h * share * (v * mean + taken_v * abs(mean))
        lost += h * share * taken_v * abs(mean)
        if supply.kind == DIRECT:
            charge += h * share * supply.way * mean
    heat = h * share * ((ohm - outside_ohm) * mean + brush_v) * mean
    lost += heat + h * share * outside_ohm * mean * mean
    torque = share * emf * flux * mean
    after, own_w, shaft_w = turned(case.load, torque, w, angle, swing, h)
    return (
        i, after, angle + 0.5 * h * (w + after), (after - w) / h, cap_v, cap_a, charge,
        given, lost + h * own_w, shaft + h * shaft_w, winding + heat, body + h * own_w,
    )  # fmt: skip


@inlined
def _measured(
    case: Any, linked: bool, firing: bool, phase: float, amplitude: float, copper: float, y: _Y, values: Any
) -> float:
    """Fill `values` (4,) with what the channels see at this instant; return the air-gap torque."""
    supply = case.supply
    i, w = y[0], y[1]
    u, gate = source_v(supply, phase, amplitude, y[6]), gated(supply, phase)
    flux, _, contact = _flux(case, i)
    ohm, emf = contacts(case, y[2], copper)
    ohm += case.lead_ohm
    against = emf * flux * w
    if supply.smoothing_f > 0.0:
        v, way = supply.way * y[4], 0.0
    else:
        v, _, way = offered(supply, u, i, linked, firing, gate)
    line_v = v
    if i == 0.0 and (way == 2.0 or (way != 0.0 and way * (v - against) <= 0.0)):
        line_v = emf * w * (case.magnet_v_s + case.residual_v_s)  # open: its own voltage
    elif supply.series_ohm != 0.0 or supply.series_h != 0.0:
        inductance = case.winding_h + supply.series_h
        change = (v - (ohm + supply.series_ohm) * i - against - case.brush_v * contact) / inductance
        line_v = v - supply.series_ohm * i - supply.series_h * change
    values[0], values[1] = line_v - case.lead_ohm * i, i
    values[3] = drawn_a(supply, u, i, y[5], linked, gate)
    if supply.kind < FULL_WAVE:
        values[2] = line_v
    elif linked and (supply.on or values[3] != 0.0):
        sag_v = supply.way * (v - line_v) if values[3] != 0.0 else 0.0
        values[2] = mains_side_v(supply, u, sag_v, y[4], y[5])
    else:
        values[2] = 0.0
    return float(emf * flux * i)


@inlined
def _fired(case: Any, firing: bool, phase: float, i: float) -> bool:
    """Whether the triac carries from here on: by its gate, or by a current that has not ended."""
    if gated(case.supply, phase + 1e-9):
        return True
    return firing and i != 0.0


@compiled
def run(
    cases: Any, states: Any, first: int, rate_hz: float, steps: int,
    values: Any, speed: Any, torque: Any, angle: Any, truths: Any, edge_times: Any, edge_states: Any, edge_counts: Any,
) -> None:  # fmt: skip
    """The loop of `Model.run`."""
    h = 1.0 / (rate_hz * steps)
    for c in range(cases.shape[0]):
        case, s = cases[c], states[c]
        supply, load = case.supply, case.load
        phase, flicker, swing_rad, edges = s.phase_rad, s.flicker_rad, s.swing_rad, 0
        linked, firing, winding_c, case_c = s.linked != 0, s.firing != 0, s.winding_c, s.case_c
        if supply.on and not linked:
            linked, phase = True, supply.mains.switching_rad
        if not supply.on and s.current_a == 0.0 and s.capacitor_a == 0.0:
            linked = False
        held_still(load, s)
        y = (
            s.current_a, s.speed_rad_s, s.angle_rad, s.slope_rad_s2, s.capacitor_v if supply.smoothing_f > 0.0 else 0.0,
            s.capacitor_a if supply.smoothing_f > 0.0 else 0.0, s.charge_c,
            s.energy_j[0], s.energy_j[1], s.energy_j[2], 0.0, 0.0,
        )  # fmt: skip
        times, levels = edge_times[c], edge_states[c]
        for n in range(speed.shape[1]):
            amplitude = flickered(supply.mains, flicker) if supply.mains.flicker != 0.0 else 1.0
            swing = sin(swing_rad) if load.swing_n_m != 0.0 else 0.0
            copper = resistance_factor(case.warmth, winding_c)
            firing = _fired(case, firing, phase, y[0])
            speed[c, n], angle[c, n] = y[1], y[2]
            torque[c, n] = _measured(case, linked, firing, phase, amplitude, copper, y, values[c, :, n])
            truths[c, 0, n], truths[c, 1, n] = winding_c, case_c
            truths[c, 2, n] = load_n_m(load, y[1], y[2], swing)
            for k in range(steps):
                before = y[2]
                part = until_gated(supply, phase, h * supply.mains.rad_s)
                if part > 0.0:
                    y = _stepped(case, linked, firing, phase, amplitude, swing, copper, y, part * h)
                    phase, firing = phase + part * h * supply.mains.rad_s, True
                y = _stepped(case, linked, firing, phase, amplitude, swing, copper, y, (1.0 - part) * h)
                phase = turned_on(phase, (1.0 - part) * h * supply.mains.rad_s)
                firing = _fired(case, firing, phase, y[0])
                if not supply.on and linked and (y[5] if supply.smoothing_f > 0.0 else y[0]) == 0.0:
                    linked = False
                edges = pulsed(FROM_ZERO, before, y[2], (first + n) / rate_hz + k * h, h, times, levels, edges)
            winding_c, case_c = warmed(
                case.warmth, winding_c, case_c, y[10] * rate_hz, y[11] * rate_hz, 1.0 / rate_hz
            )  # fmt: skip
            y = (settled(y[0]), settled(y[1]), y[2], y[3], settled(y[4]), y[5], y[6], y[7], y[8], y[9], 0.0, 0.0)
            flicker = turned_on(flicker, supply.mains.flicker_rad_s / rate_hz)
            swing_rad = turned_on(swing_rad, load.swing_rad_s / rate_hz)
        s.current_a, s.speed_rad_s, s.angle_rad, s.slope_rad_s2 = y[0], y[1], y[2], y[3]
        s.capacitor_v, s.capacitor_a, s.charge_c = y[4], y[5], y[6]
        s.energy_j[0], s.energy_j[1], s.energy_j[2] = y[7], y[8], y[9]
        s.phase_rad, s.winding_c, s.case_c = phase, winding_c, case_c
        s.flicker_rad, s.swing_rad = flicker, swing_rad
        s.linked, s.firing, edge_counts[c] = linked, firing, edges
