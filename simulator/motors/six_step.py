"""Equations of a brushless motor with three Hall sensors on a six-step bridge, and the loop that steps them.

x = 0, 1, 2 for the phases U, V, W; electrical angle = p times the shaft's; angle 0 is where the back-EMF of
U crosses zero upwards, turning forward:

    e_x = k_e w trap(angle - 120 x);   trap: +1 from 30 to 150, -1 from 210 to 330 degrees, linear between
    L di_x/dt = v_x - e_x - v_n - R i_x;   v_n = mean of (v - e) over the phases that conduct
    T = k_e sum(trap_x i_x);   J dw/dt = T - (T_0 + T_L) tanh(w / 0.5 rad/s) - B w

Hall A is high from 30 to 210 degrees, B and C 120 and 240 later; late sensors shift all of that forward.
The bridge drives one pair per Hall state (the other way round for reverse), the plus phase at duty x link,
the minus phase at 0, as an average over the switching period. A phase that is not driven conducts through
a diode while it carries current (-U_d into the motor, link + U_d out of it), or when its terminal e + v_n
would pass a rail; else it floats. Without any current the star point is where equal dividers from the
terminals to DC minus hold it, within the diodes. Current of the link:

    i_dc = duty x current of the plus phase + currents that upper diodes give back (negative)

The current limit makes the duty whatever holds the mean current of the driven pair within the limit, down
to -1, which is the pair driven the other way; one phase may carry up to half more while a third one still
gives its current back. Without a source the bridge is off and the link capacitor discharges, fed by the
diodes only.

Integrator: Euler with the resistive term implicit. May assume constants made by its motor.
"""

from math import floor, pi, tanh
from typing import Any

import numpy as np

from simulator.stepping import Block, compiled, empty_block

SIGNALS = ("u_v", "v_v", "w_v", "dc_link_v", "u_a", "v_a", "dc_link_a")
CREEP_RAD_S = 0.5
NONE = -1

HALL_STATES = (5, 1, 3, 2, 6, 4)  # sectors in forward order; bits C B A
PLUS = (0, 0, 1, 1, 2, 2)
MINUS = (1, 2, 2, 0, 0, 1)

CONSTANTS = np.dtype(
    [
        ("pole_pairs", "f8"),
        ("phase_ohm", "f8"),
        ("phase_h", "f8"),
        ("back_emf_v_s", "f8"),
        ("inertia_kg_m2", "f8"),
        ("dry_n_m", "f8"),
        ("friction_n_m_s", "f8"),
        ("diode_v", "f8"),
        ("hall_late_deg", "f8"),
        ("hall_hysteresis_deg", "f8"),
        ("source_v", "f8"),
        ("link_f", "f8"),
        ("bleed_ohm", "f8"),
        ("duty", "f8"),
        ("current_limit_a", "f8"),
        ("forward", "i8"),
        ("supplied", "i8"),
        ("held", "i8"),
    ]
)
STATE = np.dtype([("i", "f8", 3), ("speed_rad_s", "f8"), ("angle_rad", "f8"), ("link_v", "f8"), ("sector", "i8")])


@compiled
def _sector(case: Any, angle_rad: float) -> float:
    """Where the sensors see the rotor, in sectors since Hall A rose at the beginning; not wrapped."""
    return float((case.pole_pairs * angle_rad * 180.0 / pi - 30.0 - case.hall_late_deg) / 60.0)


@compiled
def _shapes(case: Any, angle_rad: float, shapes: Any) -> None:
    degrees = case.pole_pairs * angle_rad * 180.0 / pi
    for x in range(3):
        from_middle = degrees - 120.0 * x - 90.0
        from_middle -= 360.0 * floor(from_middle / 360.0 + 0.5)
        shapes[x] = min(max((90.0 - abs(from_middle)) / 30.0, -1.0), 1.0)


@compiled
def _duty(case: Any, link_v: float, driving_a: float, emf_v: float, h: float) -> float:
    """The duty within the current limit; `driving_a` is i_plus - i_minus, `emf_v` e_plus - e_minus."""
    if link_v <= 0.0:
        return 0.0
    inertia = case.phase_h / h
    damped = 1.0 + h * case.phase_ohm / case.phase_h
    highest = ((2.0 * case.current_limit_a * damped - driving_a) * inertia + emf_v) / link_v
    lowest = ((-2.0 * case.current_limit_a * damped - driving_a) * inertia + emf_v) / link_v
    return float(min(max(min(max(case.duty, lowest), highest), -1.0), 1.0))


@compiled
def _terminals(case: Any, plus: int, minus: int, duty: float, link_v: float, i: Any, e: Any, v: Any, on: Any) -> float:
    """Fill terminal voltages `v` and `on`, what conducts, each (3,); return the voltage of the star point."""
    upper, lower = link_v + case.diode_v, -case.diode_v
    count, total, idle = 0, 0.0, NONE
    for x in range(3):
        on[x] = x in (plus, minus) or i[x] != 0.0
        if not on[x]:
            idle = x
            continue
        v[x] = lower if i[x] > 0.0 else upper
        if x == plus:
            v[x] = link_v * max(duty, 0.0)
        elif x == minus:
            v[x] = link_v * max(-duty, 0.0)
        count, total = count + 1, total + v[x] - e[x]
    if count == 0:
        high, low = int(np.argmax(e)), int(np.argmin(e))
        if e[high] - e[low] <= upper - lower:
            star = min(max(-(e[0] + e[1] + e[2]) / 3.0, lower - e[low]), upper - e[high])
            for x in range(3):
                v[x] = e[x] + star
            return float(star)
        on[high] = on[low] = True
        v[high], v[low], idle = upper, lower, 3 - high - low
        count, total = 2, upper - e[high] + lower - e[low]
    star = total / count
    if count == 2:
        v[idle] = min(max(e[idle] + star, lower), upper)
        if v[idle] != e[idle] + star:
            on[idle], star = True, (total + v[idle] - e[idle]) / 3.0
    return float(star)


@compiled
def _currents(case: Any, plus: int, minus: int, h: float, star: float, i: Any, e: Any, v: Any, on: Any) -> None:
    """Step `i` (3,); a diode's current ends at zero."""
    count = 0
    for x in range(3):
        if on[x]:
            i[x] = (i[x] + h / case.phase_h * (v[x] - e[x] - star)) / (1.0 + h * case.phase_ohm / case.phase_h)
            if x not in (plus, minus) and i[x] * (1.0 if v[x] < 0.0 else -1.0) <= 0.0:
                i[x], on[x] = 0.0, False
            else:
                count += 1
    rest = (i[0] + i[1] + i[2]) / max(count, 1)
    for x in range(3):
        if on[x]:
            i[x] = i[x] - rest if count > 1 else 0.0


@compiled
def _link_a(plus: int, minus: int, duty: float, i: Any) -> float:
    total = 0.0
    for x in range(3):
        if x == plus:
            total += max(duty, 0.0) * i[x]
        elif x == minus:
            total += max(-duty, 0.0) * i[x]
        else:
            total += min(i[x], 0.0)
    return total


@compiled
def _speed(case: Any, w: float, torque: float, h: float) -> float:
    if case.held:
        return 0.0
    held_back = tanh(w / CREEP_RAD_S) if abs(w) < 20.0 * CREEP_RAD_S else (1.0 if w > 0.0 else -1.0)
    return float(w + h / case.inertia_kg_m2 * (torque - case.dry_n_m * held_back - case.friction_n_m_s * w))


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
    shape, e, v, on = np.zeros(3), np.zeros(3), np.zeros(3), np.zeros(3, dtype=np.bool_)
    for c in range(cases.shape[0]):
        case, kept = cases[c], states[c]
        i, theta, sector, edges = kept.i.copy(), kept.angle_rad, kept.sector, 0
        w = 0.0 if case.held else kept.speed_rad_s
        link_v = case.source_v if case.supplied else kept.link_v
        play = case.hall_hysteresis_deg / 60.0
        for n in range(speed.shape[1]):
            for k in range(steps):
                _shapes(case, theta, shape)
                for x in range(3):
                    e[x] = case.back_emf_v_s * w * shape[x]
                plus = minus = NONE
                duty = 0.0
                if case.supplied:
                    plus, minus = PLUS[sector % 6], MINUS[sector % 6]
                    if not case.forward:
                        plus, minus = minus, plus
                    duty = _duty(case, link_v, i[plus] - i[minus], e[plus] - e[minus], h)
                star = _terminals(case, plus, minus, duty, link_v, i, e, v, on)
                link_a = _link_a(plus, minus, duty, i)
                pull = case.back_emf_v_s * (shape[0] * i[0] + shape[1] * i[1] + shape[2] * i[2])
                if k == 0:
                    values[c, 0, n], values[c, 1, n], values[c, 2, n], values[c, 3, n] = v[0], v[1], v[2], link_v
                    values[c, 4, n], values[c, 5, n], values[c, 6, n] = i[0], i[1], link_a
                    speed[c, n], torque[c, n], angle[c, n] = w, pull, theta
                _currents(case, plus, minus, h, star, i, e, v, on)
                if not case.supplied:
                    link_v = max(link_v - h / case.link_f * (link_a + link_v / case.bleed_ohm), 0.0)
                before = _sector(case, theta)
                w = _speed(case, w, pull, h)
                theta += h * w
                after = _sector(case, theta)
                turned = 1 if after >= sector + 1.0 + play else -1 if after < sector - play else 0
                if turned:
                    edge = sector + 1.0 + play if turned > 0 else sector - play
                    sector += turned
                    edge_times[c, edges] = (first + n) / rate_hz + (k + (edge - before) / (after - before)) * h
                    edge_states[c, edges] = HALL_STATES[sector % 6]
                    edges += 1
            w, link_v = _settled(w), _settled(link_v)
            for x in range(3):
                i[x] = _settled(i[x])
        kept.i[:] = i
        kept.speed_rad_s, kept.link_v, kept.angle_rad = w, link_v, theta
        kept.sector, edge_counts[c] = sector, edges


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
