"""Equations of shunt and compound DC motors, and the loop that steps them.

    L_a di_a/dt = u - s_a e(theta) kphi w - U_b tanh(i_a / 0.05 A) - (R_a(theta) + R_s + R_ext) i_a
    L_f di_f/dt = u_f - (R_f + R_rheostat) i_f
    i_eff = s_f i_f + n_s i_a;   kphi = K_max i_eff / (|i_eff| + I_s) + K_res
    T = s_a e(theta) kphi i_a;   J dw/dt = T - friction - load (load.py)
    R_a(theta), e(theta): ripple, worn brushes and a bad bar as in series.py

n_s: turns of the series field over those of the shunt field, above 0 cumulative, below 0 differential, 0 with the
series field shorted or absent; R_s counts with it. R_ext: a starter in the armature's branch. s_a, s_f = -1 with the
leads of armature or field exchanged; currents and voltages are those of the leads. The field stands beside the
armature's branch (u_f = u) or has a supply of its own that is always on. A broken field lead burns an arc in which
i_f dies away with 10 ms. With the line open, or its rectifier blocking, armature and field beside it are one loop,

    i_a = -i_f;   (L_a + L_f) di_f/dt = s_a e kphi w - U_b tanh(i_f / 0.05 A) - (R_a + R_s + R_ext + R_f) i_f

so a shunt motor that is switched off excites itself for a while. Poor contact and impedance of the supply stand in
the line of both; the supply's inductance acts on the armature's current alone.

Integrator: linearly implicit midpoint, the field before the armature. Left out: the coupling of both fields, iron
loss, armature reaction. May assume constants made by its motor.
"""

from math import sin
from typing import Any, TypeAlias

import numpy as np

from simulator.motors.branches import (
    FIELD_ARC_S,
    beside,
    carries,
    fed,
    linked_flux,
    open_v,
    unfed,
)
from simulator.motors.series import BRUSHES, contacts
from simulator.physics.brush import brush_drop
from simulator.physics.direct import DIRECT, SUPPLY, charging, gated, offered, source_v
from simulator.physics.index_pulse import FROM_ZERO, pulsed
from simulator.physics.load import LOAD, load_n_m
from simulator.physics.mains import flickered
from simulator.physics.shaft import held_still, turned
from simulator.physics.stepping import compiled, inlined, settled, turned_on
from simulator.physics.warmth import WARMTH, resistance_factor, warmed

SIGNALS = ("armature_v", "armature_a", "field_v", "field_a")
TRUTHS = ("winding_c", "case_c", "load_n_m")
CONSTANTS = np.dtype(
    [
        *BRUSHES,
        ("supply", SUPPLY),
        ("load", LOAD),
        ("warmth", WARMTH),
        ("winding_ohm", "f8"),  # armature and series field at 20 C
        ("starter_ohm", "f8"),
        ("lead_ohm", "f8"),
        ("armature_h", "f8"),
        ("field_ohm", "f8"),  # at 20 C
        ("rheostat_ohm", "f8"),
        ("field_h", "f8"),
        ("field_v", "f8"),  # of its own supply
        ("field_separate", "i8"),
        ("field_closed", "i8"),
        ("armature_way", "f8"),
        ("field_way", "f8"),
        ("series_turns", "f8"),  # n_s
        ("flux_v_s", "f8"),  # K_max
        ("saturation_a", "f8"),
        ("residual_v_s", "f8"),
    ]
)
STATE = np.dtype(
    [
        ("armature_a", "f8"),
        ("field_a", "f8"),
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
        ("linked", "i8"),
        ("energy_j", "f8", 3),
    ]
)

# i_a, i_f, w, angle, slope of w, u_C, i_C, charge; input, lost, shaft; heat in the windings, in the case
_Y: TypeAlias = tuple[float, float, float, float, float, float, float, float, float, float, float, float, float]


@inlined
def _stepped(
    case: Any, linked: bool, phase: float, amplitude: float, swing: float, copper: float, y: _Y, h: float
) -> _Y:
    """One step; the switch stays as it is."""
    supply = case.supply
    ia, jf, w, angle, slope, cap_v, cap_a, charge, given, lost, shaft, winding, body = y
    middle = phase + 0.5 * h * supply.mains.rad_s
    u, gate = source_v(supply, middle, amplitude, charge), gated(supply, middle)
    ohm, emf = contacts(case, angle + 0.5 * h * w, copper)
    ohm += case.starter_ohm
    field_ohm = case.field_ohm * copper + case.rheostat_ohm
    outside_ohm, half, taken_v = case.lead_ohm + supply.series_ohm, 0.0, 0.0
    w_middle, line = w + 0.5 * h * slope, ia + beside(case) * jf
    if supply.smoothing_f > 0.0:
        half = 0.5 * h / supply.smoothing_f
        cap_a, charging_a, rectified_v = charging(supply, u, gate, linked, cap_v, cap_a, h)
        cap_v += 2.0 * half * charging_a
        v, way = supply.way * (cap_v - half * charging_a), 0.0
        given += h * charging_a * (rectified_v + supply.drop_v)
        lost += h * charging_a * (supply.drop_v + supply.charging_ohm * charging_a)
    else:
        v, taken_v, way = offered(supply, u, line, linked, gate or line != 0.0, gate)
    across = open_v(case, jf, w_middle, ohm, emf, field_ohm) if line == 0.0 and abs(way) == 1.0 else 0.0
    if carries(way, line, v, across):
        ia, jf, ma, mf, flux, drop, drawn, share = fed(
            case, ia, jf, w_middle, v, way, ohm, outside_ohm + half, emf, field_ohm, h
        )
    else:
        ia, jf, ma, mf, flux, drop, drawn, share = unfed(case, jf, w_middle, ohm, emf, field_ohm, h)
    time = share * h
    if supply.smoothing_f > 0.0:
        cap_v -= 2.0 * half * supply.way * drawn
    else:
        given += time * (v * drawn + taken_v * abs(drawn))
        lost += time * taken_v * abs(drawn)
        if supply.kind == DIRECT:
            charge += time * supply.way * drawn
    heat = time * ((ohm - case.starter_ohm) * ma + drop) * ma
    lost += time * (case.starter_ohm * ma * ma + outside_ohm * drawn * drawn)
    if not case.field_closed:
        lost += h * case.field_h * mf * mf / FIELD_ARC_S
    else:
        field_s = time
        if case.field_separate:
            field_s = h
            given += h * case.field_v * mf
        heat += field_s * case.field_ohm * copper * mf * mf
        lost += field_s * case.rheostat_ohm * mf * mf
    after, own_w, shaft_w = turned(case.load, share * emf * flux * ma, w, angle, swing, h)
    return (
        ia, jf, after, angle + 0.5 * h * (w + after), (after - w) / h, cap_v, cap_a, charge,
        given, lost + heat + h * own_w, shaft + h * shaft_w, winding + heat, body + h * own_w,
    )  # fmt: skip


@inlined
def _measured(case: Any, linked: bool, phase: float, amplitude: float, copper: float, y: _Y, values: Any) -> float:
    """Fill `values` (4,) with what the channels see at this instant; return the air-gap torque."""
    supply = case.supply
    ia, jf, w = y[0], y[1], y[2]
    u, gate = source_v(supply, phase, amplitude, y[7]), gated(supply, phase)
    ohm, emf = contacts(case, y[3], copper)
    ohm += case.starter_ohm
    field_ohm = case.field_ohm * copper + case.rheostat_ohm
    line = ia + beside(case) * jf
    if supply.smoothing_f > 0.0:
        v, way = supply.way * y[5], 0.0
    else:
        v, _, way = offered(supply, u, line, linked, gate or line != 0.0, gate)
    flux, _ = linked_flux(case, ia, jf)
    across = 0.0
    if way == 2.0 or (line == 0.0 and way != 0.0):
        across = open_v(case, jf, w, ohm, emf, field_ohm)
    if carries(way, line, v, across):
        across = v - (case.lead_ohm + supply.series_ohm) * line
        if supply.series_h != 0.0:
            push = across - ohm * ia - emf * w * flux - brush_drop(case, ia)[0]
            across -= supply.series_h * push / (case.armature_h + supply.series_h)
    values[0], values[1] = across, ia
    values[2], values[3] = case.field_v if case.field_separate else across, jf
    return float(emf * flux * ia)


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
        linked, winding_c, case_c = s.linked != 0, s.winding_c, s.case_c
        if supply.on and not linked:
            linked, phase = True, supply.mains.switching_rad
        if not supply.on and s.armature_a + beside(case) * s.field_a == 0.0 and s.capacitor_a == 0.0:
            linked = False
        held_still(load, s)
        smooth = 1.0 if supply.smoothing_f > 0.0 else 0.0
        y = (
            s.armature_a, s.field_a, s.speed_rad_s, s.angle_rad, s.slope_rad_s2,
            smooth * s.capacitor_v, smooth * s.capacitor_a, s.charge_c,
            s.energy_j[0], s.energy_j[1], s.energy_j[2], 0.0, 0.0,
        )  # fmt: skip
        times, levels = edge_times[c], edge_states[c]
        for n in range(speed.shape[1]):
            amplitude = flickered(supply.mains, flicker) if supply.mains.flicker != 0.0 else 1.0
            swing = sin(swing_rad) if load.swing_n_m != 0.0 else 0.0
            copper = resistance_factor(case.warmth, winding_c)
            speed[c, n], angle[c, n] = y[2], y[3]
            torque[c, n] = _measured(case, linked, phase, amplitude, copper, y, values[c, :, n])
            truths[c, 0, n], truths[c, 1, n] = winding_c, case_c
            truths[c, 2, n] = load_n_m(load, y[2], y[3], swing)
            for k in range(steps):
                before = y[3]
                y = _stepped(case, linked, phase, amplitude, swing, copper, y, h)
                phase = turned_on(phase, h * supply.mains.rad_s)
                if linked and not supply.on:
                    linked = (y[6] if smooth else y[0] + beside(case) * y[1]) != 0.0
                edges = pulsed(FROM_ZERO, before, y[3], (first + n) / rate_hz + k * h, h, times, levels, edges)
            winding_c, case_c = warmed(
                case.warmth, winding_c, case_c, y[11] * rate_hz, y[12] * rate_hz, 1.0 / rate_hz
            )  # fmt: skip
            y = (
                settled(y[0]), settled(y[1]), settled(y[2]), y[3], y[4], settled(y[5]), y[6], y[7],
                y[8], y[9], y[10], 0.0, 0.0,
            )  # fmt: skip
            flicker = turned_on(flicker, supply.mains.flicker_rad_s / rate_hz)
            swing_rad = turned_on(swing_rad, load.swing_rad_s / rate_hz)
        s.armature_a, s.field_a, s.speed_rad_s, s.angle_rad, s.slope_rad_s2 = y[0], y[1], y[2], y[3], y[4]
        s.capacitor_v, s.capacitor_a, s.charge_c = y[5], y[6], y[7]
        s.energy_j[0], s.energy_j[1], s.energy_j[2] = y[8], y[9], y[10]
        s.phase_rad, s.winding_c, s.case_c = phase, winding_c, case_c
        s.flicker_rad, s.swing_rad = flicker, swing_rad
        s.linked, edge_counts[c] = linked, edges
