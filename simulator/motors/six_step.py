"""Equations of a brushless motor with three Hall sensors on a six-step bridge, and the loop that steps them.

x = 0, 1, 2 for the phases U, V, W; electrical angle = p times the shaft's; angle 0 is where the back-EMF of
U crosses zero upwards, turning forward:

    e_x = k_e w shape(angle - 120 x);   shape: a mix of trap (+1 from 30 to 150, -1 from 210 to 330 degrees) and sine
    L di_x/dt = v_x - e_x - v_n - R_x i_x;   v_n = mean of (v - e - R i) over the phases that conduct
    T = k_e sum(shape_x i_x);   dw/dt as in physics/load.py
    C dU/dt = i_s - i_dc - U / R_bleed;   i_s = (U_s - U) / R_s, within the source's limit

The bridge drives one pair per Hall state that its inputs read (the other way round for reverse), the plus phase at
duty x link, the minus phase at 0, as an average over the switching period. In a state that its table does not know all
six switches are off; a leg is, while it would need a switch that is dead. A phase that is not driven conducts through
a diode while it carries current (-U_d into the motor, link + U_d out of it), or when its terminal e + v_n would pass a
rail; else it floats. Without any current the star point is where equal dividers from the terminals to DC minus hold
it, within the diodes; a motor off the bridge has none. Current of the link:

    i_dc = duty x current of the plus phase + currents that upper diodes give back (negative)

The current limit makes the duty whatever holds the mean current of the driven pair within the limit, down
to -1, which is the pair driven the other way; one phase may carry up to half more while a third one still
gives its current back. Without a source the bridge is off and the link discharges, fed by the diodes only. A source
without resistance and limit holds the link, and takes back what comes. A lead that opens under current breaks it
at once: its arc takes what the other two cannot carry on.

Integrator: trapezoids (EMF, torque and link at mid-step) cut at every edge of the lines and where a diode's current
ends, so 17 us are better than 2 us uncut. Not modelled: iron loss, saturation, ripple of the switching, the drive's own
use. May assume constants made by its motor.
"""

from math import cos, floor, nan, pi, sin
from typing import Any

import numpy as np

from simulator.motors.bridge import (
    currents,
    driven,
    duty_within,
    link,
    link_a,
    open_leads,
    source_a,
    terminals,
)
from simulator.motors.hall_faults import let_lines_change, let_pulses_begin
from simulator.motors.hall_lines import HALL, LINES, lines_read, see_rotor
from simulator.physics.load import LOAD
from simulator.physics.shaft import kinetic_j, turned
from simulator.physics.stepping import compiled, inlined, settled, turned_on
from simulator.physics.warmth import WARMTH, resistance_factor, sample_warmed

SIGNALS = ("u_v", "v_v", "w_v", "dc_link_v", "u_a", "v_a", "dc_link_a", "w_a", "hall_supply_a")
RUNAWAY_RAD_S = 1e5  # no shaft does that: the equations have run away, and edges without end would follow
TRUTHS = ("winding_c", "case_c", "electrical_angle_deg", "sensor_state")
CONSTANTS = np.dtype(
    [
        ("load", LOAD),
        ("hall", HALL),
        ("warmth", WARMTH),
        ("pole_pairs", "f8"),
        ("phase_ohm", "f8"),
        ("phase_h", "f8"),
        ("back_emf_v_s", "f8"),
        ("emf_sine", "f8"),
        ("diode_v", "f8"),
        ("source_v", "f8"),
        ("source_ohm", "f8"),  # 0: the source holds the link
        ("source_limit_a", "f8"),
        ("takes_back", "i8"),
        ("link_f", "f8"),
        ("bleed_ohm", "f8"),
        ("duty", "f8"),
        ("current_limit_a", "f8"),
        ("forward", "i8"),
        ("supplied", "i8"),
        ("table_60", "i8"),
        ("order", "i8", 3),  # motor phases on the bridge's outputs U, V, W
        ("seen", "i8", 3),  # motor phases that the board's voltage leads U, V, W are on
        ("ohm_factor", "f8", 3),
        ("upper_dead", "i8"),  # outputs whose switch does not close, a bit each
        ("lower_dead", "i8"),
        ("bridge_off", "i8"),
        ("open", "i8", 3),  # motor phases whose lead is off
        ("sensors_a", "f8"),
    ]
)
STATE = np.dtype(
    [
        ("i", "f8", 3),
        ("speed_rad_s", "f8"),
        ("electrical_deg", "f8"),
        ("swing_rad", "f8"),
        ("link_v", "f8"),
        ("winding_c", "f8"),
        ("case_c", "f8"),
        ("plus", "i8"),  # motor phases that are driven now, or none
        ("minus", "i8"),
        ("copper_j", "f8"),  # since the sample
        ("lines", LINES),
        ("energy_j", "f8", 3),
    ]
)


@inlined
def phase_shapes(case: Any, electrical_deg: float, shapes: Any) -> None:
    """Fill `shapes` (3,) of the phases' back-EMF."""
    turns = electrical_deg / 360.0 - 0.25
    for x in range(3):
        off = turns - x / 3.0
        off -= floor(off + 0.5)
        trap = min(max(12.0 * (0.25 - abs(off)), -1.0), 1.0)
        shapes[x] = trap if case.emf_sine == 0.0 else trap + case.emf_sine * (cos(2.0 * pi * off) - trap)


@compiled
def _take_hold(case: Any, kept: Any, t: float) -> None:
    """What a change of the controls does at once, and what the sensors see from then on."""
    hall, lines = case.hall, kept.lines
    kept.energy_j[1] += open_leads(case, kept.i)
    if case.load.held:
        kept.energy_j[2] += kinetic_j(case.load, kept.speed_rad_s)
        kept.speed_rad_s = 0.0
    if case.supplied and case.source_ohm == 0.0:
        kept.energy_j[0] += 0.5 * case.link_f * (case.source_v**2 - kept.link_v**2)
        kept.link_v = case.source_v
    loaded = kept.i[0] != 0.0 or kept.i[1] != 0.0
    while lines.next_s <= t:
        let_lines_change(hall, lines, lines.next_s, loaded)
    let_lines_change(hall, lines, t, loaded)
    see_rotor(hall, lines, kept.electrical_deg)


@inlined
def _sample(case: Any, kept: Any, ohm: float, h: float, values: Any, truths: Any, shape: Any, e: Any, on: Any) -> float:
    """Fill what the channels and the truth see now, (signals,) and (truths,); returns the torque."""
    i, v = kept.i, values[:3]
    phase_shapes(case, kept.electrical_deg, shape)
    for x in range(3):
        e[x] = case.back_emf_v_s * kept.speed_rad_s * shape[x]
    plus, minus = driven(case, kept.lines.read)
    duty = duty_within(case, ohm, plus, minus, kept.link_v, i, e, h)
    terminals(case, ohm, plus, minus, duty, kept.link_v, i, e, v, on)
    given_a = source_a(case, kept.link_v, link_a(plus, minus, duty, i))
    u, w = case.order[0], case.order[2]
    values[3], values[4], values[5], values[6] = kept.link_v, i[u], i[case.order[1]], given_a
    values[7], values[8] = i[w], case.sensors_a
    first, second, third = v[case.seen[0]], v[case.seen[1]], v[case.seen[2]]
    v[0], v[1], v[2] = first, second, third
    truths[0], truths[1] = kept.winding_c, kept.case_c
    truths[2], truths[3] = kept.electrical_deg % 360.0, kept.lines.sensors
    return float(case.back_emf_v_s * (shape[0] * i[0] + shape[1] * i[1] + shape[2] * i[2]))


@inlined
def _step(
    case: Any, kept: Any, ohm: float, dt: float, swing: float, shape: Any, e: Any, v: Any, on: Any, mean: Any
) -> float:
    """One step of `dt`, or up to where a diode's current ends; returns the time that it took."""
    w, deg_per_rad = kept.speed_rad_s, case.pole_pairs * 180.0 / pi
    phase_shapes(case, kept.electrical_deg + 0.5 * dt * w * deg_per_rad, shape)
    for x in range(3):
        e[x] = case.back_emf_v_s * w * shape[x]
    i, plus, minus = kept.i, kept.plus, kept.minus
    mid_v, _ = link(case, kept.link_v, link_a(plus, minus, case.duty, i), 0.5 * dt)
    duty = duty_within(case, ohm, plus, minus, mid_v, i, e, dt)
    star = terminals(case, ohm, plus, minus, duty, mid_v, i, e, v, on)
    dt = currents(case, ohm, plus, minus, dt, star, i, e, v, on, mean)
    drawn_a = link_a(plus, minus, duty, mean)
    before_v = kept.link_v
    kept.link_v, given_a = link(case, before_v, drawn_a, dt)
    link_v = 0.5 * (before_v + kept.link_v)
    squares, diodes_a = 0.0, 0.0
    for x in range(3):
        squares += case.ohm_factor[x] * mean[x] * mean[x]
        diodes_a += 0.0 if x in (plus, minus) else abs(mean[x])
    torque = case.back_emf_v_s * (shape[0] * mean[0] + shape[1] * mean[1] + shape[2] * mean[2])
    angle_rad = kept.electrical_deg / deg_per_rad
    energy = kept.energy_j
    energy[0] += dt * link_v * given_a
    energy[1] += dt * (ohm * squares + case.diode_v * diodes_a + link_v * link_v / case.bleed_ohm)
    after, own_w, shaft_w = turned(case.load, torque, w, angle_rad, swing, dt)
    energy[1] += dt * own_w
    energy[2] += dt * shaft_w
    kept.copper_j += dt * ohm * squares
    kept.speed_rad_s = after if abs(after) < RUNAWAY_RAD_S else nan
    kept.electrical_deg += 0.5 * dt * (w + kept.speed_rad_s) * deg_per_rad
    return dt


@inlined
def _next_event(case: Any, kept: Any, t: float, longest: float) -> tuple[float, bool]:
    """How long a step may be: up to a sensor's change or a random one of the lines; and whether it is the sensor's."""
    lines, deg_s = kept.lines, kept.speed_rad_s * case.pole_pairs * 180.0 / pi
    dt, sensor = longest, False
    if deg_s > 0.0 and lines.up_deg - kept.electrical_deg < dt * deg_s:
        dt, sensor = max((lines.up_deg - kept.electrical_deg) / deg_s, 0.0), True
    elif deg_s < 0.0 and lines.down_deg - kept.electrical_deg > dt * deg_s:
        dt, sensor = max((lines.down_deg - kept.electrical_deg) / deg_s, 0.0), True
    if lines.next_s - t < dt:
        dt, sensor = max(lines.next_s - t, 0.0), False
    return dt, sensor


@compiled
def _changed(case: Any, kept: Any, t: float, sensor: bool, room: bool) -> bool:
    """Let sensors and lines change where it is time; whether the inputs read something else.

    Without room for one more edge the inputs read on as before.
    """
    lines = kept.lines
    if sensor:
        if kept.speed_rad_s > 0.0:
            kept.electrical_deg = max(kept.electrical_deg, lines.up_deg)
        else:
            kept.electrical_deg = min(kept.electrical_deg, lines.down_deg - 1e-9 - 1e-15 * abs(lines.down_deg))
    if kept.electrical_deg >= lines.up_deg or kept.electrical_deg < lines.down_deg:
        see_rotor(case.hall, lines, kept.electrical_deg)
        if case.hall.pulses:
            let_pulses_begin(lines, t)
    while lines.next_s <= t:
        let_lines_change(case.hall, lines, lines.next_s, kept.i[0] != 0.0 or kept.i[1] != 0.0)
    levels = lines_read(case.hall, lines)
    if levels == lines.read or not room:
        return False
    lines.read = levels
    kept.plus, kept.minus = driven(case, levels)
    return True


@compiled
def run(
    cases: Any, states: Any, first: int, rate_hz: float, steps: int, values: Any, speed: Any, torque: Any,
    angle: Any, truths: Any, edge_times: Any, edge_states: Any, edge_counts: Any,
) -> None:  # fmt: skip
    """Fill the arrays of a block (see `Model.run`)."""
    h = 1.0 / (rate_hz * steps)
    shape, e, v, mean, on = np.zeros(3), np.zeros(3), np.zeros(3), np.zeros(3), np.zeros(3, dtype=np.bool_)
    for c in range(cases.shape[0]):
        case, kept = cases[c], states[c]
        edges, room = 0, edge_times.shape[1]
        _take_hold(case, kept, first / rate_hz)
        if _changed(case, kept, first / rate_hz, False, True):
            edge_times[c, 0], edge_states[c, 0], edges = first / rate_hz, kept.lines.read, 1
        kept.plus, kept.minus = driven(case, kept.lines.read)
        for n in range(speed.shape[1]):
            t0 = (first + n) / rate_hz
            ohm = case.phase_ohm * resistance_factor(case.warmth, kept.winding_c)
            swing = sin(kept.swing_rad) if case.load.swing_n_m != 0.0 else 0.0
            torque[c, n] = _sample(case, kept, ohm, h, values[c, :, n], truths[c, :, n], shape, e, on)
            speed[c, n], angle[c, n] = kept.speed_rad_s, kept.electrical_deg * pi / (180.0 * case.pole_pairs)
            for k in range(steps):
                done = 0.0
                while done < h - 1e-13:
                    now = t0 + k * h + done
                    dt, sensor = _next_event(case, kept, now, h - done)
                    if dt > 0.0:
                        took = _step(case, kept, ohm, dt, swing, shape, e, v, on, mean)
                        sensor, done = sensor and took == dt, done + took
                    if _changed(case, kept, t0 + k * h + done, sensor, edges < room):
                        edge_times[c, edges], edge_states[c, edges] = t0 + k * h + done, kept.lines.read
                        edges += 1
            _settle(case, kept, 1.0 / rate_hz)
            kept.swing_rad = turned_on(kept.swing_rad, case.load.swing_rad_s / rate_hz)
        edge_counts[c] = edges


@inlined
def _settle(case: Any, kept: Any, seconds: float) -> None:
    """Once a sample: what dies away for ever becomes nothing, and the winding warms."""
    kept.speed_rad_s, kept.link_v = settled(kept.speed_rad_s), settled(kept.link_v)
    for x in range(3):
        kept.i[x] = settled(kept.i[x])
    sample_warmed(case.warmth, kept, seconds)
