"""Supplies of machines with two terminals: mains, battery, rectified mains, a triac, a capacitor behind the rectifier.

    kind 0 alternating   u;  with a triac only from its firing at `triac_angle_deg` of each half wave until i = 0
    kind 1 direct        (U_0 - s Q) polarity;  Q the charge given so far, behind the battery's resistance
    kind 2 full wave     (|u| - 2 U_d) polarity, current one way; while a triac blocks it goes on in the bridge, -2 U_d
    kind 3 half wave     (u - U_d) polarity, current one way; with a firing angle: a thyristor

Without a capacitor the impedance of the supply stands in series with the machine (with a bridge: on its direct side,
so the overlap of its diodes is left out). With one, the rectifier feeds the capacitor from the mains behind their
impedance, 0.1 ohm and 50 uH at least (assumed: some 50 m of cable), and the machine takes from it either way:

    L_s di_s/dt = |u| - drops - u_C - R_s i_s,  i_s >= 0;   C du_C/dt = i_s - i

Energy that a supply gives is counted at the source itself: what its impedance and its diodes take of it is lost.
The switch is before all that. Alternating current goes on in its arc until its zero. Direct current burns an arc of
20 V + 1.5 U_0 (assumed), which ends it within some milliseconds; the arc's energy is lost.
"""

from collections.abc import Mapping
from math import pi, radians
from typing import Any

import numpy as np

from simulator.physics.control import Control
from simulator.physics.mains import MAINS, MAINS_CONTROLS, fill_mains, mains_v
from simulator.physics.stepping import inlined

ALTERNATING, DIRECT, FULL_WAVE, HALF_WAVE = 0, 1, 2, 3
EITHER, NONE = 0, 2  # ways of a current, beside 1 and -1
DIODE_V = 0.8
ARC_V, ARC_SHARE = 20.0, 1.5
CABLE_OHM, CABLE_H = 0.1, 50e-6
SUPPLY = np.dtype(
    [
        ("mains", MAINS),
        ("kind", "i8"),
        ("on", "i8"),
        ("way", "f8"),  # polarity: 1 or -1
        ("battery_v", "f8"),
        ("sag_v_per_c", "f8"),
        ("drop_v", "f8"),  # of all diodes in the path
        ("triac_rad", "f8"),  # 0: none
        ("smoothing_f", "f8"),  # 0: none
        ("series_ohm", "f8"),  # in series with the machine
        ("series_h", "f8"),
        ("charging_ohm", "f8"),  # before the capacitor
        ("charging_h", "f8"),
    ]
)
SUPPLY_CONTROLS = (
    Control("supply_on", 0, 0, 1, "line switch"),
    Control("supply_kind", 0, 0, 3, "0 alternating, 1 direct or battery, 2 full wave, 3 half wave rectified"),
    *MAINS_CONTROLS,
    Control("battery_v", 12, 0, 1000, "direct supply, or a battery at rest"),
    Control("battery_ohm", 0, 0, 1000, "its internal resistance"),
    Control("battery_sag_v_per_ah", 0, 0, 1000, "what it loses with the charge that it has given"),
    Control("polarity", 1, -1, 1, "below 0: plus and minus exchanged"),
    Control("smoothing_uf", 0, 0, 1e6, "capacitor behind the rectifier; change it at rest, its charge goes with it"),
    Control("triac_angle_deg", 0, 0, 180, "firing angle of a triac in the mains lead; 0: none"),
)


def fill_supply(supply: Any, controls: Mapping[str, float]) -> None:
    """Fill one SUPPLY record."""
    kind = round(controls["supply_kind"])
    rectified, smoothing_f = kind >= FULL_WAVE, controls["smoothing_uf"] * 1e-6
    fill_mains(supply["mains"], controls, controls["mains_v"])
    supply["kind"], supply["on"] = kind, controls["supply_on"] > 0
    supply["way"] = -1.0 if controls["polarity"] < 0 and kind != ALTERNATING else 1.0
    supply["battery_v"] = controls["battery_v"]
    supply["sag_v_per_c"] = controls["battery_sag_v_per_ah"] / 3600
    supply["drop_v"] = {FULL_WAVE: 2 * DIODE_V, HALF_WAVE: DIODE_V}.get(kind, 0.0)
    supply["triac_rad"] = radians(controls["triac_angle_deg"]) if kind != DIRECT else 0.0
    supply["smoothing_f"] = smoothing_f if rectified else 0.0
    ohm, henry = controls["source_ohm"], controls["source_h"]
    supply["charging_ohm"], supply["charging_h"] = max(ohm, CABLE_OHM), max(henry, CABLE_H)
    if kind == DIRECT:
        ohm, henry = controls["battery_ohm"], 0.0
    if rectified and smoothing_f > 0:
        ohm, henry = 0.0, 0.0
    supply["series_ohm"], supply["series_h"] = ohm, henry


def supply_j(supply: Any, state: Any) -> float:
    """What the capacitor of a state, and the inductance before it, hold; zero without a capacitor."""
    charge = supply["smoothing_f"] * state["capacitor_v"] ** 2
    return float(0.5 * (charge + supply["charging_h"] * state["capacitor_a"] ** 2))


def emptied(supply: Any, state: Any) -> None:
    """A capacitor without its charge, which is booked as lost; a battery that has its own again."""
    state["energy_j"][1] += supply_j(supply, state)
    state["capacitor_v"] = state["capacitor_a"] = state["charge_c"] = 0.0


@inlined
def source_v(supply: Any, phase_rad: float, amplitude: float, charge_c: float) -> float:
    """Voltage of the source itself, before its impedance and a rectifier."""
    if supply.kind == DIRECT:
        return float(supply.way * max(supply.battery_v - supply.sag_v_per_c * charge_c, 0.0))
    return float(mains_v(supply.mains, phase_rad, amplitude))


@inlined
def gated(supply: Any, phase_rad: float) -> bool:
    """Whether a triac's gate holds it on; it holds from its angle to the end of the half wave. True without one."""
    if supply.triac_rad == 0.0:
        return True
    phase = phase_rad % (2.0 * pi)
    if phase >= pi:
        if supply.kind == HALF_WAVE:
            return False
        phase -= pi
    return bool(phase >= supply.triac_rad)


@inlined
def until_gated(supply: Any, phase_rad: float, step_rad: float) -> float:
    """The share of a step before the gate comes on; 0 where it does not come on in this step."""
    if supply.triac_rad == 0.0 or gated(supply, phase_rad) or not gated(supply, phase_rad + step_rad):
        return 0.0
    return float((supply.triac_rad - phase_rad % pi) / step_rad)


@inlined
def offered(
    supply: Any, u: float, current_a: float, linked: bool, firing: bool, gate: bool
) -> tuple[float, float, float]:
    """What stands before the series impedance: voltage, what arc and diodes take of it (V), and the current's way.

    Way: 0 either, 1 or -1 that way only (so it stops at zero), 2 none at all. `u` is the source's voltage,
    `linked` whether the switch still carries, `firing` whether a triac does. Not for a rectifier with capacitor.
    """
    flows = 1.0 if current_a > 0.0 else -1.0
    way = flows if current_a != 0.0 else supply.way  # a current may still flow as before the polarity was exchanged
    if supply.kind == FULL_WAVE:
        fed = abs(u) if linked and gate and supply.on else 0.0
        if fed == 0.0 and current_a == 0.0:
            return 0.0, 0.0, float(NONE)
        return supply.way * fed - way * supply.drop_v, supply.drop_v, way
    if not linked or not firing:
        return 0.0, 0.0, float(NONE)
    if supply.kind == HALF_WAVE:
        return supply.way * u - way * supply.drop_v, supply.drop_v, way
    if supply.on:
        return u, 0.0, float(EITHER) if gate else flows
    arc_v = ARC_V + ARC_SHARE * abs(u) if supply.kind == DIRECT else 0.0
    return u - arc_v * flows, arc_v, flows


@inlined
def charging(
    supply: Any, u: float, gate: bool, linked: bool, cap_v: float, cap_a: float, h: float
) -> tuple[float, float, float]:
    """One step of the current into the capacitor: its new value, its mean over the step, the mean rectified voltage.

    Linearly implicit midpoint; what the machine takes meanwhile acts on the next step.
    """
    if not linked:
        return 0.0, 0.0, 0.0
    fed = (abs(u) if supply.kind == FULL_WAVE else u) - supply.drop_v
    if cap_a == 0.0 and (fed <= cap_v or not gate):
        return 0.0, 0.0, fed
    inertia = 2.0 * supply.charging_h / h
    mean = (fed - cap_v + inertia * cap_a) / (inertia + supply.charging_ohm + 0.5 * h / supply.smoothing_f)
    after = 2.0 * mean - cap_a
    if after <= 0.0:
        share = cap_a / (cap_a - after) if cap_a > 0.0 else 0.0
        return 0.0, 0.5 * cap_a * share, fed
    return after, mean, fed


@inlined
def mains_side_v(supply: Any, u: float, sag_v: float, cap_v: float, cap_a: float) -> float:
    """Voltage before a rectifier, behind the supply's own impedance; `sag_v`: what that takes without a capacitor."""
    if supply.smoothing_f > 0.0 and cap_a > 0.0:
        fed = (abs(u) if supply.kind == FULL_WAVE else u) - supply.drop_v
        slope = (fed - cap_v - supply.charging_ohm * cap_a) / supply.charging_h
        sag_v = supply.mains.source_ohm * cap_a + supply.mains.source_h * slope
    return u + sag_v if supply.kind == FULL_WAVE and u < 0.0 else u - sag_v


@inlined
def drawn_a(supply: Any, u: float, current_a: float, cap_a: float, linked: bool, gate: bool) -> float:
    """Current in the supply lead, on the mains side of a rectifier."""
    if supply.smoothing_f > 0.0:
        return float(-cap_a if supply.kind == FULL_WAVE and u < 0.0 else cap_a)
    if supply.kind == FULL_WAVE:
        if not (linked and gate and supply.on):
            return 0.0
        return float(abs(current_a) if u > 0.0 else -abs(current_a))
    return float(abs(current_a)) if supply.kind == HALF_WAVE else current_a
