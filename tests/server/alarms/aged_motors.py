"""Motors that age in a night, by their quasi-steady equations and the invented parameters of the bench.

How fast each ages is common practice, no published source, but for the brushes, whose rate is the project's promise:
what is slower than a night is found in more of them (a day is looked back on). Each window's readings scatter besides.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import cache, partial
from typing import TypeAlias

import numpy as np

from server.alarms.coasting import DRY_RPM_S, TO_HALF_S, dry_rpm_s
from server.alarms.ready import READY
from server.alarms.series import Series, taken, with_one
from server.alarms.watched import BRUSHED, BY_PHASE, CAPACITANCE, COASTING, Figures, Numbers, figures_of
from simulator.motors.permanent_split_capacitor import CABIN_VENTILATOR as FAN
from simulator.motors.split_phase import BENCH_GRINDER as SPLIT
from tests.server.alarms.nights import (
    AGED,
    AGED_NOW_AND_THEN,
    NOW_AND_THEN,
    SHIFTS,
    STATIONARY,
    Array,
    Drawn,
    Kind,
    Window,
    drawn,
    found_after_s,
)
from tests.simulator.motors.induction import phasors, series

RPM = 30.0 / np.pi
R, KE, UB, T0, B, KL = 0.42, 0.0259, 0.6, 0.005, 3e-6, 7.127e-7  # of the bilge pump
COPPER_K = 1.0 / 255.0  # of its resistance at 20 degrees
SPEED_LOST = 0.022  # of the pump's speed, by brushes that wear for a night
CAPACITANCE_LOST = 0.06  # twice what IEC 60252-1 allows in an endurance test (from memory): a capacitor that fails
CAPACITANCE_LOST_UNSEEN = 0.3  # where neither its current nor its voltage is measured
PER_K = -3e-4  # of a polypropylene capacitor (common practice, no published source)
COOLING_LOST = 0.3  # of what carries its heat away: an air opening that clogs
WARM_K_W, WARM_S, SENSOR_K = 3.0, 1200.0, 0.1


Found: TypeAlias = Callable[[Kind, np.random.Generator], float | None]


@dataclass(frozen=True)
class Aged:
    """What of a motor ages. `found_s`: when its ready rule told it in a night of this kind, None: it did not."""

    name: str
    stationary: tuple[Kind, ...]
    shifts: tuple[Kind, ...]
    aged: tuple[Kind, ...]
    found_s: Found


@dataclass(frozen=True)
class Coaster:
    """A motor that is switched off, and by how much its dry friction has grown at the end of a night."""

    dry_n_m: float
    viscous_n_m_s: float
    fan_n_m_s2: float
    inertia_kg_m2: float
    speed_rad_s: float
    adds_n_m: float


GRINDER = Coaster(0.1, SPLIT.friction_n_m_s, 0.0, SPLIT.inertia_kg_m2, 311.5, 0.035)
VENTILATOR = Coaster(0.0, FAN.friction_n_m_s, FAN.fan_n_m_s2, FAN.inertia_kg_m2, 144.5, 0.08)


def least(rule: str) -> float:
    """By how much a ready rule's figures must have moved, in percent."""
    return READY[rule].usual.least_percent or 0.0


def pump(volts: Array, load: Array, ohm: Array) -> tuple[Array, Array]:
    """Speed in rad/s and current in A of the bilge pump: the positive root of

    k_e w = U - R i - U_b,  k_e i = T_0 + B w + k_L w^2
    """
    a, b = ohm * KL * load / KE, KE + ohm * B / KE
    c = UB + ohm * T0 / KE - volts
    w = (-b + np.sqrt(b * b - 4.0 * a * c)) / (2.0 * a)
    return w, (T0 + B * w + KL * load * w * w) / KE


@cache
def worn_ohm() -> float:
    """What must be added to the winding for the speed to fall as far as it does in a night of wear."""
    one = np.ones(1)
    new = pump(12.0 * one, one, R * one)[0][0]
    low, high = 0.0, 1.0
    for _ in range(50):
        middle = 0.5 * (low + high)
        far = 1.0 - pump(12.0 * one, one, (R + middle) * one)[0][0] / new > SPEED_LOST
        low, high = (low, middle) if far else (middle, high)
    return high


def worn_windows(kind: Kind, rng: np.random.Generator) -> Iterator[Window]:
    """Of the pump, its winding as warm as the room makes it; magnets that get weaker by warmth would hide it more."""
    its = drawn(kind, rng)
    volts = 12.0 * its.supply
    w, amps = pump(volts, its.load, R * (1.0 + COPPER_K * its.air_k) + worn_ohm() * its.age)
    rpm = RPM * w * _noise(rng, its, 0.001)
    return _windows(its, speed_rpm=rpm, current_mean_a=amps * _noise(rng, its, 0.005), voltage_mean_v=volts)


def warm_windows(kind: Kind, rng: np.random.Generator) -> Iterator[Window]:
    """Of the pump's housing, which follows its losses late, and of the air."""
    its = drawn(kind, rng)
    w, amps = pump(12.0 * its.supply, its.load, np.full(its.t.size, R))
    lost_w = R * amps**2 + UB * amps + (T0 + B * w) * w
    rise_k, keep = np.empty(its.t.size), np.exp(-kind.step_s / WARM_S)
    now_k = WARM_K_W * lost_w[0]
    for k, to_k in enumerate((WARM_K_W * (1.0 + COOLING_LOST * its.age) * lost_w).tolist()):
        now_k = rise_k[k] = keep * now_k + (1.0 - keep) * to_k
    air = 20.0 + its.air_k + SENSOR_K * rng.standard_normal(its.t.size)
    housing = 20.0 + its.air_k + rise_k + SENSOR_K * rng.standard_normal(its.t.size)
    names = {"temperature_c.housing": housing, "temperature_c.ambient": air}
    return _windows(its, **names, active_power_w=12.0 * its.supply * amps, current_rms_a=amps)


def fan_steady(volts: float, load: float, uf: float) -> tuple[float, float, float, float]:
    """Of the ventilator: currents of line and auxiliary, voltage of its capacitor, angle of the line current in
    degrees."""
    motor = replace(FAN, mains_v=volts)
    behind = series(uf * 1e-6, FAN.run_capacitor_ohm)
    low, high = 100.0, 157.0
    for _ in range(40):
        w = 0.5 * (low + high)
        more = phasors(motor, w, behind)[2] > FAN.friction_n_m_s * w + FAN.fan_n_m_s2 * load * w * w
        low, high = (w, high) if more else (low, w)
    main, auxiliary, *_ = phasors(motor, low, behind)
    line = main + auxiliary + volts / FAN.core_ohm
    across = abs(auxiliary) / (2.0 * np.pi * FAN.mains_hz * uf * 1e-6)
    return abs(line), abs(auxiliary), across, -float(np.angle(line, deg=True))


@cache
def _fan_surface() -> Array:
    """`fan_steady` as a polynomial of second degree in what it depends on, shape (10, 4)."""
    points = [(v, n, c) for v in (0.88, 1.0, 1.12) for n in (0.78, 1.0, 1.22) for c in (0.69, 0.85, 1.01)]
    values = [fan_steady(FAN.mains_v * v, n, FAN.run_capacitor_uf * c) for v, n, c in points]
    v, n, c = np.array(points).T
    found: Array = np.linalg.lstsq(_terms(v, n, c), np.array(values), rcond=None)[0]
    return found


def _terms(v: Array, n: Array, c: Array) -> Array:
    return np.stack([np.ones_like(v), v, n, c, v * v, n * n, c * c, v * n, v * c, n * c], axis=1)


def fan(volts: Array, load: Array, capacitance: Array) -> Array:
    """The same for parts of the usual, shape (4, moments); to 0.3 % within a fifth of the usual."""
    return np.asarray((_terms(volts, load, capacitance) @ _fan_surface()).T)


def capacitor_windows(kind: Kind, rng: np.random.Generator, lost: float = CAPACITANCE_LOST) -> Iterator[Window]:
    """Of the ventilator, whose capacitor loses so much."""
    its = drawn(kind, rng)
    line, auxiliary, across, angle = fan(its.supply, its.load, (1.0 - lost * its.age) * (1.0 + PER_K * its.air_k))
    return _windows(
        its,
        **{"current_fundamental_a.auxiliary": auxiliary * _noise(rng, its, 0.002)},
        **{"voltage_fundamental_v.capacitor": across * _noise(rng, its, 0.002)},
        frequency_hz=50.0 * _noise(rng, its, 0.0004),
        voltage_rms_v=FAN.mains_v * its.supply,
        current_rms_a=line * _noise(rng, its, 0.002),
        phase_angle_deg=angle + 0.1 * rng.standard_normal(its.t.size),
    )


def unseen_windows(kind: Kind, rng: np.random.Generator) -> Iterator[Window]:
    """The same, where much must be lost before the line shows it."""
    return capacitor_windows(kind, rng, CAPACITANCE_LOST_UNSEEN)


def _windows(its: Drawn, **readings: Array) -> Iterator[Window]:
    rows = zip(*(values.tolist() for values in readings.values()), strict=True)
    for at_s, on, row in zip(its.t.tolist(), its.runs.tolist(), rows, strict=True):
        yield at_s, on, dict(zip(readings, row, strict=True))


def _noise(rng: np.random.Generator, its: Drawn, part: float) -> Array:
    return np.asarray(1.0 + part * rng.standard_normal(its.t.size))


def coasts(kind: Kind, rng: np.random.Generator, motor: Coaster) -> Iterator[tuple[float, Numbers]]:
    """When it was switched off, every ten minutes, and what its coasting came to.

    The supply moves the speed that it coasts from, as of a motor on direct current; the load is its fan alone. Friction
    scatters by 2 %, as grease does; rows of 10 ms cut the times.
    """
    its = drawn(replace(kind, step_s=600.0), rng)
    x = np.linspace(1.0, 0.25, 301)
    for k, at_s in enumerate(its.t.tolist()):
        w = motor.speed_rad_s * its.supply[k]
        rubs = motor.dry_n_m + motor.adds_n_m * its.age[k] + motor.viscous_n_m_s * w * x
        torque = rubs * (1.0 + 0.02 * rng.standard_normal()) + motor.fan_n_m_s2 * its.load[k] * (w * x) ** 2
        after_s = np.cumsum(motor.inertia_kg_m2 * w * (x[0] - x[1]) / torque) + 0.01 * rng.random()
        half_s, quarter_s = np.ceil(100.0 * after_s[[200, 300]]) / 100.0
        dry = dry_rpm_s(RPM * w, half_s, quarter_s - half_s)
        yield at_s, {TO_HALF_S: float(half_s), DRY_RPM_S: dry}


def coasts_found_s(kind: Kind, rng: np.random.Generator, motor: Coaster) -> float | None:
    """When its coasting was told as drifted in the night."""
    found, percent = Series(), least("bearing_friction")
    for at_s, numbers in coasts(kind, rng, motor):
        found = taken(found, COASTING, {}, True, at_s, percent)
        found = with_one(found, COASTING, numbers, at_s, percent)
        if found.drift:
            return at_s
    return None


def _by(windows: Callable[[Kind, np.random.Generator], Iterator[Window]], figures: Figures, rule: str) -> Found:
    return lambda kind, rng: found_after_s(windows(kind, rng), figures, least(rule))


NOT_LOAD = tuple(kind for kind in SHIFTS if not kind.load_step and not kind.air_k)
RUBBING = tuple(kind for kind in SHIFTS if not kind.air_k)
WARMING = figures_of("warming", READY["warming"].usual.drift)[0]
ALL = (
    Aged("pump, brushes", STATIONARY + NOW_AND_THEN, SHIFTS, AGED + AGED_NOW_AND_THEN,
         _by(worn_windows, BRUSHED, "brush_wear")),
    Aged("ventilator, capacitor", STATIONARY, SHIFTS, AGED, _by(capacitor_windows, CAPACITANCE, "capacitor_ageing")),
    Aged("ventilator, by its line", STATIONARY, SHIFTS, AGED, _by(unseen_windows, BY_PHASE, "capacitor_ageing")),
    Aged("grinder, coasting", STATIONARY, NOT_LOAD, AGED, partial(coasts_found_s, motor=GRINDER)),
    Aged("ventilator, coasting", STATIONARY, RUBBING, AGED, partial(coasts_found_s, motor=VENTILATOR)),
    Aged("pump, temperature", STATIONARY, SHIFTS, AGED, _by(warm_windows, WARMING, "warming")),
)  # fmt: skip
