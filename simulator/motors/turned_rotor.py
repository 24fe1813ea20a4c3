"""A rotor that is turned along a given path: the edges of its Hall lines and the voltages that its windings make.

Nothing is integrated, for no current flows: the motor is off its bridge, and the terminals lie at equal dividers.
Sensors and lines are those of hall_lines.py, step for step, the angle between two samples is a straight line. So
seconds are made in milliseconds, where many cases are wanted. May assume records made by brushless.py.
"""

from math import inf
from typing import Any

import numpy as np

from simulator.motors.hall_faults import let_lines_change, let_pulses_begin
from simulator.motors.hall_lines import lines_read, see_rotor
from simulator.motors.six_step import phase_shapes
from simulator.physics.stepping import compiled


@compiled
def turn_rotor(
    cases: Any, states: Any, degrees: Any, rate_hz: float, loaded: bool, volts: Any, times: Any, levels: Any
) -> int:
    """Turn the first case along `degrees` (samples + 1,), electrical; returns how many edges there were.

    Fills `volts` (3, samples), what the board's voltage leads show, and of `times` (s) and `levels` (edges,) as many as
    there were; more than they have room for are not seen. `loaded`: pulses come as if current flowed.
    """
    case, kept = cases[0], states[0]
    hall, lines = case.hall, kept.lines
    h, edges, shape, v = 1.0 / rate_hz, 0, np.zeros(3), np.zeros(3)
    for n in range(volts.shape[1]):
        t0, a, b = n * h, degrees[n], degrees[n + 1]
        _terminals(case, a, (b - a) * rate_hz, shape, v)
        for lead in range(3):
            volts[lead, n] = v[case.seen[lead]]
        done = 0.0
        while True:
            sensor = inf
            if b > a and lines.up_deg < b:
                sensor = max((lines.up_deg - a) / (b - a), done)
            elif b < a and lines.down_deg > b:
                sensor = max((lines.down_deg - a) / (b - a), done)
            other = max((lines.next_s - t0) * rate_hz, done)
            if min(sensor, other) >= 1.0:
                break
            done = min(sensor, other)
            if sensor <= other:
                below = lines.down_deg - 1e-9 - 1e-15 * abs(lines.down_deg)
                see_rotor(hall, lines, lines.up_deg if b > a else below)
                if hall.pulses:
                    let_pulses_begin(lines, t0 + done * h)
            else:
                let_lines_change(hall, lines, lines.next_s, loaded)
            read = lines_read(hall, lines)
            if read != lines.read and edges < times.shape[0]:
                lines.read = read
                times[edges], levels[edges] = t0 + done * h, read
                edges += 1
    return edges


@compiled
def take_place(cases: Any, states: Any, degrees: float, loaded: bool) -> int:
    """Put the rotor of the first case there; returns what the inputs read."""
    kept = states[0]
    kept.electrical_deg = degrees
    see_rotor(cases[0].hall, kept.lines, degrees)
    let_lines_change(cases[0].hall, kept.lines, 0.0, loaded)
    kept.lines.read = lines_read(cases[0].hall, kept.lines)
    return int(kept.lines.read)


@compiled
def _terminals(case: Any, degrees: float, degrees_per_s: float, shape: Any, v: Any) -> None:
    """Fill `v` (3,), the voltages of the motor's phases; a lead that is off shows nothing."""
    phase_shapes(case, degrees, shape)
    per_shape = case.back_emf_v_s * degrees_per_s * np.pi / (180.0 * case.pole_pairs)
    total, leads = 0.0, 0
    for x in range(3):
        if not case.open[x]:
            total, leads = total + shape[x], leads + 1
    for x in range(3):
        v[x] = 0.0 if case.open[x] or leads < 2 else per_shape * (shape[x] - total / leads)
