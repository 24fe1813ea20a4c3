"""One step of a shaft with its load, stable however stiff the dry friction is at rest.

The equation stands in `load.py`. Dry friction is taken implicitly (with its slope at the beginning of the step), what
grows with the speed half so, which is the midpoint rule. Friction that would turn a shaft round within a step stops
it instead. May assume that the torque is the mean over the step.
"""

from math import exp, sin
from typing import Any

from simulator.physics.load import HAND_S, friction_n_m, held_back
from simulator.physics.stepping import inlined


@inlined
def kinetic_j(load: Any, w: float) -> float:
    """Energy of the turning parts."""
    return float(0.5 * load.inertia_kg_m2 * w * w)


@inlined
def held_still(load: Any, state: Any) -> None:
    """A jam stops a shaft at once: what it had leaves through it."""
    if load.held:
        state.energy_j[2] += kinetic_j(load, state.speed_rad_s)
        state.speed_rad_s = state.slope_rad_s2 = 0.0


@inlined
def turned(
    load: Any, torque_n_m: float, w: float, angle_rad: float, swing: float, h: float
) -> tuple[float, float, float]:
    """Speed after a step of `h` seconds, and mean powers (W): own friction, and what leaves through the shaft.

    `torque_n_m` air gap; `swing` is sin(2 pi f_s t) of a load that swings in time.
    """
    if load.held:
        return 0.0, 0.0, 0.0
    if load.by_hand:
        after = load.hand_rad_s + (w - load.hand_rad_s) * exp(-h / HAND_S)
        mean = 0.5 * (w + after)
        own = friction_n_m(load, mean)
        return after, own * mean, (torque_n_m - own - load.inertia_kg_m2 * (after - w) / h) * mean
    dry = load.dry_n_m
    if load.pulsation != 0.0:
        dry *= 1.0 + load.pulsation * sin(angle_rad)
    dry += load.swing_n_m * swing
    all_dry = load.own_dry_n_m + dry
    back = held_back(load, w)
    stiff = (1.0 - back * back) / load.creep_rad_s if all_dry > 0.0 else 0.0
    air = load.own_fan_n_m_s2 + load.fan_n_m_s2
    viscous = load.own_viscous_n_m_s + load.viscous_n_m_s
    net = torque_n_m - all_dry * back - viscous * w - air * w * abs(w)
    slope = all_dry * stiff + 0.5 * viscous + air * abs(w)
    after = w + h * net / (load.inertia_kg_m2 + h * slope)
    if w * after < 0.0 and abs(torque_n_m) <= all_dry:
        after = 0.0
    mean = 0.5 * (w + after)
    back += stiff * (after - w)
    blown = mean * abs(mean)
    own_w = (load.own_dry_n_m * back + load.own_viscous_n_m_s * mean + load.own_fan_n_m_s2 * blown) * mean
    shaft_w = (dry * back + load.viscous_n_m_s * mean + load.fan_n_m_s2 * blown) * mean
    return after, own_w, shaft_w
