"""What a shaft drives, and what holds or turns it.

    J dw/dt = T - (T_0 + T_L (1 + a sin angle) + T_s sin(2 pi f_s t)) tanh(w / w_c) - B w - k w abs(w)

T_0, B, k: the motor's own friction plus the load's. tanh keeps dry friction passive at rest: it holds a shaft and
never drives it; w_c is 0.5 rad/s unless a model says otherwise. Jammed: w = 0. Turned by hand: the speed follows the
hand's within 30 ms, whatever the torque.
"""

from collections.abc import Mapping
from math import pi, sin, tanh
from typing import Any

import numpy as np

from simulator.physics.control import Control
from simulator.physics.stepping import compiled

CREEP_RAD_S = 0.5
HAND_S = 0.03
LOAD = np.dtype(
    [
        ("own_dry_n_m", "f8"),
        ("dry_n_m", "f8"),
        ("pulsation", "f8"),
        ("swing_n_m", "f8"),
        ("swing_rad_s", "f8"),
        ("own_viscous_n_m_s", "f8"),
        ("viscous_n_m_s", "f8"),
        ("own_fan_n_m_s2", "f8"),
        ("fan_n_m_s2", "f8"),
        ("inertia_kg_m2", "f8"),  # motor and load
        ("creep_rad_s", "f8"),
        ("held", "i8"),
        ("by_hand", "i8"),
        ("hand_rad_s", "f8"),
    ]
)
LOAD_CONTROLS = (
    Control("load_torque_n_m", 0, 0, 1000, "dry load, opposes the motion"),
    Control("load_pulsation", 0, 0, 1, "swing of the dry load once a turn, as a share of it: a compressor has 0.6"),
    Control("load_swing_n_m", 0, 0, 1000, "load that swings in time, to either side"),
    Control("load_swing_hz", 3, 0.1, 50, "its frequency"),
    Control("load_friction_n_m_s", 0, 0, 100, "load that grows with the speed"),
    Control("load_factor", 1, 0, 10, "fan or pump as a multiple of the motor's usual one"),
    Control("load_inertia_kg_m2", 0, 0, 1000, "inertia of the load, beside the motor's"),
    Control("jammed", 0, 0, 1, "shaft held still"),
    Control("turned_by_hand", 0, 0, 1, "shaft turned by hand at hand_rpm, whatever the motor does"),
    Control("hand_rpm", 0, -1000, 1000, "speed of the hand"),
)


def fill_load(
    load: Any,
    controls: Mapping[str, float],
    *,
    inertia_kg_m2: float,
    dry_n_m: float = 0.0,
    viscous_n_m_s: float = 0.0,
    own_fan_n_m_s2: float = 0.0,
    fan_n_m_s2: float = 0.0,
    creep_rad_s: float = CREEP_RAD_S,
) -> None:
    """Fill one LOAD record: the motor's own friction and its usual fan, and what the controls put on the shaft."""
    load["own_dry_n_m"], load["dry_n_m"] = dry_n_m, controls["load_torque_n_m"]
    load["pulsation"], load["swing_n_m"] = controls["load_pulsation"], controls["load_swing_n_m"]
    load["swing_rad_s"] = 2 * pi * controls["load_swing_hz"]
    load["own_viscous_n_m_s"], load["viscous_n_m_s"] = viscous_n_m_s, controls["load_friction_n_m_s"]
    load["own_fan_n_m_s2"], load["fan_n_m_s2"] = own_fan_n_m_s2, fan_n_m_s2 * controls["load_factor"]
    load["inertia_kg_m2"] = inertia_kg_m2 + controls["load_inertia_kg_m2"]
    load["creep_rad_s"] = creep_rad_s
    load["held"] = controls["jammed"] > 0
    load["by_hand"], load["hand_rad_s"] = controls["turned_by_hand"] > 0, controls["hand_rpm"] * pi / 30


@compiled
def held_back(load: Any, w: float) -> float:
    """-1 to 1: the direction in which dry friction opposes; nothing at rest."""
    if abs(w) > 20.0 * load.creep_rad_s:
        return 1.0 if w > 0.0 else -1.0
    return tanh(w / load.creep_rad_s)


@compiled
def load_n_m(load: Any, w: float, angle_rad: float, swing: float) -> float:
    """Torque that the load takes at the shaft; `swing` is sin(2 pi f_s t), still over one sample."""
    dry = load.dry_n_m
    if load.pulsation != 0.0:
        dry *= 1.0 + load.pulsation * sin(angle_rad)
    return float(
        (dry + load.swing_n_m * swing) * held_back(load, w) + load.viscous_n_m_s * w + load.fan_n_m_s2 * w * abs(w)
    )


@compiled
def friction_n_m(load: Any, w: float) -> float:
    """Torque that the motor's own bearings and air take."""
    return float(load.own_dry_n_m * held_back(load, w) + load.own_viscous_n_m_s * w + load.own_fan_n_m_s2 * w * abs(w))
