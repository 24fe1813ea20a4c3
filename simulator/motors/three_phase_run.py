"""The loop of the three-phase induction motor: lines that close and part, shaft pulses, heat.

The equations stand in three_phase.py. May assume constants made by its motor.
"""

from math import cos, sin
from typing import Any

import numpy as np

from simulator.motors.three_phase import measured, mode_of, opened, parting_line, stepped, torque_n_m, waves
from simulator.physics.index_pulse import FROM_ZERO, pulsed
from simulator.physics.load import load_n_m
from simulator.physics.mains import flickered
from simulator.physics.shaft import held_still
from simulator.physics.stepping import compiled, settled, turned_on
from simulator.physics.warmth import warmed


@compiled
def run(
    cases: Any, states: Any, first: int, rate_hz: float, steps: int, values: Any, speed: Any, torque: Any, angle: Any,
    truths: Any, edge_times: Any, edge_states: Any, edge_counts: Any,
) -> None:  # fmt: skip
    """See motor.py. Lines close at once; `phase` is set when the first one does."""
    h, sample_s = 1.0 / (rate_hz * steps), 1.0 / rate_hz
    energy, probe = np.zeros(5), np.zeros(5)
    for number in range(cases.shape[0]):
        case, s = cases[number], states[number]
        load, mains = case.load, case.mains
        held_still(load, s)
        phase, flicker, swing_rad, edges = s.phase_rad, s.flicker_rad, s.swing_rad, 0
        closed, delta, arc_s, winding_c, case_c = s.closed, s.delta, s.arc_s, s.winding_c, s.case_c
        if closed == 0:
            delta = case.delta
            if case.closed != 0:
                phase = mains.switching_rad
        closed |= case.closed
        if closed == case.closed:  # an opening that was taken back leaves no arc
            arc_s = 0.0
        y = (s.y[0], s.y[1], s.y[2], s.y[3])
        shaft = (s.speed_rad_s, s.angle_rad, s.slope_rad_s2)
        for k in range(3):
            energy[k] = s.energy_j[k]
        if s.source_h != case.source_h[delta]:  # the current stays; who changes the coil brings its energy
            energy[0] += 0.75 * (case.source_h[delta] - s.source_h) * (y[0] * y[0] + y[1] * y[1])
            s.source_h = case.source_h[delta]
        times, levels = edge_times[number], edge_states[number]
        for n in range(speed.shape[1]):
            amplitude = flickered(mains, flicker) if mains.flicker != 0.0 else 1.0
            swing = sin(swing_rad) if load.swing_n_m != 0.0 else 0.0
            mode = mode_of(case, delta, closed, winding_c)
            wave = waves(case, delta, sin(phase), cos(phase), phase, amplitude)
            measured(case, mode, wave, y, shaft, values[number, :, n])
            speed[number, n], torque[number, n], angle[number, n] = shaft[0], torque_n_m(case, y), shaft[1]
            truths[number, 0, n], truths[number, 1, n] = winding_c, case_c
            truths[number, 2, n] = load_n_m(load, shaft[0], shaft[1], swing)
            for line in range(3):
                truths[number, 3 + line, n] = closed >> line & 1
            truths[number, 6, n] = delta
            energy[3], energy[4] = 0.0, 0.0
            for k in range(steps):
                before, part = shaft[1], 0.0
                parts = closed & ~case.closed
                if parts:
                    after, _, _ = stepped(case, mode, wave, phase, amplitude, swing, y, shaft, probe, h)
                    part, parting = parting_line(delta, parts, arc_s, y, after)
                    arc_s += h
                    if parting:
                        if part > 0.0:
                            y, shaft, wave = stepped(
                                case, mode, wave, phase, amplitude, swing, y, shaft, energy, part * h
                            )  # fmt: skip
                        closed, arc_s = closed & ~parting, 0.0
                        mode = mode_of(case, delta, closed, winding_c)
                        y = opened(case, mode, y, energy)
                    else:
                        part = 0.0
                if part < 1.0:
                    y, shaft, wave = stepped(
                        case, mode, wave, phase + part * h * mains.rad_s, amplitude, swing, y, shaft, energy,
                        (1.0 - part) * h,
                    )  # fmt: skip
                phase = turned_on(phase, h * mains.rad_s)
                edges = pulsed(FROM_ZERO, before, shaft[1], (first + n) / rate_hz + k * h, h, times, levels, edges)
            winding_c, case_c = warmed(
                case.warmth, winding_c, case_c, energy[3] * rate_hz, energy[4] * rate_hz, sample_s
            )  # fmt: skip
            y = (settled(y[0]), settled(y[1]), settled(y[2]), settled(y[3]))
            shaft = (settled(shaft[0]), shaft[1], shaft[2])
            flicker = turned_on(flicker, mains.flicker_rad_s * sample_s)
            swing_rad = turned_on(swing_rad, load.swing_rad_s * sample_s)
        for k in range(4):
            s.y[k] = y[k]
        for k in range(3):
            s.energy_j[k] = energy[k]
        s.speed_rad_s, s.angle_rad, s.slope_rad_s2 = shaft
        s.phase_rad, s.flicker_rad, s.swing_rad, s.winding_c, s.case_c = phase, flicker, swing_rad, winding_c, case_c
        s.closed, s.delta, s.arc_s, edge_counts[number] = closed, delta, arc_s, edges
