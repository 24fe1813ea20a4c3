"""A brushless motor on a six-step bridge, in plain Euler steps: slow, simple and written apart from the model.

For right and wrong wirings of a motor with ideal diodes on a source with resistance. Nothing is located within a step,
so only its limit for small steps counts.
"""

from math import pi, tanh
from typing import Any

import numpy as np

from simulator.physics.stepping import compiled

PLUS, MINUS = (0, 0, 1, 1, 2, 2), (1, 2, 2, 0, 0, 1)


@compiled
def trapezoid(degrees: float) -> float:
    """The EMF's shape: 1 from 30 to 150 degrees, -1 from 210 to 330."""
    degrees %= 360.0
    if degrees < 180.0:
        return min(degrees / 30.0, 1.0, (180.0 - degrees) / 30.0)
    return -min((degrees - 180.0) / 30.0, 1.0, (360.0 - degrees) / 30.0)


@compiled
def settled_run(
    order: Any, step_s: float, lasts_s: float, pole_pairs: int, ohm: float, henry: float, emf_v_s: float,
    inertia_kg_m2: float, dry_n_m: float, viscous_n_m_s: float, source_v: float, source_ohm: float, link_f: float,
    late_deg: float, play_deg: float,
) -> Any:  # fmt: skip
    """Means of the last quarter: speed in rad/s, the source's current, RMS of the phase currents, (3,)."""
    i, e, v = np.zeros(3), np.zeros(3), np.zeros(3)
    w, theta, link_v, sector = 0.0, 0.15, source_v, 0
    sums, count = np.zeros(3), 0
    for n in range(int(lasts_s / step_s)):
        degrees = pole_pairs * theta * 180.0 / pi
        seen = (degrees - 30.0 - late_deg) / 60.0
        if seen >= sector + 1 + play_deg / 60.0:
            sector += 1
        elif seen < sector - play_deg / 60.0:
            sector -= 1
        plus, minus = order[PLUS[sector % 6]], order[MINUS[sector % 6]]
        torque, drawn, star, on, idle = 0.0, 0.0, 0.0, 0, -1
        for x in range(3):
            shape = trapezoid(degrees - 120.0 * x)
            e[x] = emf_v_s * w * shape
            torque += emf_v_s * shape * i[x]
            if x == plus:
                v[x] = link_v
                drawn += i[x]
            elif x == minus or i[x] > 0.0:
                v[x] = 0.0
            elif i[x] < 0.0:
                v[x] = link_v
                drawn += i[x]
            else:
                idle = x
                continue
            star, on = star + v[x] - e[x], on + 1
        if idle >= 0 and not 0.0 <= e[idle] + star / on <= link_v:
            v[idle] = 0.0 if e[idle] + star / on < 0.0 else link_v
            star, on, idle = star + v[idle] - e[idle], on + 1, -1
        for x in range(3):
            if x != idle:
                after = i[x] + step_s / henry * (v[x] - e[x] - star / on - ohm * i[x])
                i[x] = 0.0 if x not in (plus, minus) and i[x] * after < 0.0 else after
        flowing = (i[0] != 0.0) + (i[1] != 0.0) + (i[2] != 0.0)
        rest = (i[0] + i[1] + i[2]) / max(flowing, 1)
        for x in range(3):
            if i[x] != 0.0:
                i[x] -= rest
        source_a = (source_v - link_v) / source_ohm
        link_v += step_s / link_f * (source_a - drawn)
        w += step_s / inertia_kg_m2 * (torque - dry_n_m * tanh(w / 0.5) - viscous_n_m_s * w)
        theta += step_s * w
        if n * step_s > 0.75 * lasts_s:
            sums += np.array([w, source_a, (i[0] ** 2 + i[1] ** 2 + i[2] ** 2) / 3.0])
            count += 1
    sums /= count
    sums[2] = sums[2] ** 0.5
    return sums
