"""Each definition written out in the time domain, slowly and without any transform: sums over one whole cycle.

A wave's phasors are not looked at, only its values at many moments.
"""

from math import cos, degrees, hypot, pi, sin, sqrt

import numpy as np
from numpy.typing import NDArray

from tests.server.signals.slow import Wave

POINTS = 1200  # of a cycle: thirds of it are whole, and orders to 25 with all their products are told apart exactly
TURNS = np.arange(POINTS) / POINTS


def cycle_of(wave: Wave) -> list[float]:
    """One cycle, point by point."""
    values: list[float] = wave(TURNS).tolist()
    return values


def mean(values: list[float]) -> float:
    return sum(values) / len(values)


def rms(values: list[float]) -> float:
    return sqrt(mean([value * value for value in values]))


def projected(values: list[float], order: int) -> tuple[float, float]:
    """Components of an order along cosine and sine, RMS: the Fourier integrals, term by term."""
    both = [0.0, 0.0]
    for k, value in enumerate(values):
        angle = 2.0 * pi * order * k / POINTS
        both[0] += value * cos(angle)
        both[1] += value * sin(angle)
    return both[0] * sqrt(2.0) / POINTS, both[1] * sqrt(2.0) / POINTS


def thd_percent(values: list[float], highest: int = 25) -> float:
    """IEC 61000-4-7, 3.3.1 (from memory); these waves have no order above 25."""
    sizes = [hypot(*projected(values, order)) for order in range(1, highest + 1)]
    return 100.0 * sqrt(sum(size * size for size in sizes[1:])) / sizes[0]


def single(volts: list[float], amps: list[float]) -> dict[str, float]:
    """IEEE 1459-2010, 3.1 (from memory): powers of one phase, the reactive one of the fundamentals alone."""
    power = mean([u * i for u, i in zip(volts, amps, strict=True)])
    apparent = rms(volts) * rms(amps)
    (ua, ub), (ia, ib) = projected(volts, 1), projected(amps, 1)
    along, across = ua * ia + ub * ib, ua * ib - ub * ia
    return {
        "voltage_rms_v": rms(volts),
        "current_rms_a": rms(amps),
        "voltage_mean_v": mean(volts),
        "current_mean_a": mean(amps),
        "voltage_half_cycle_max_v": rms(volts),
        "current_half_cycle_min_a": rms(amps),
        "active_power_w": power,
        "apparent_power_va": apparent,
        "power_factor": power / apparent,
        "non_active_power_var": sqrt(max(apparent**2 - power**2, 0.0)),
        "fundamental_reactive_power_var": across,
        "phase_angle_deg": degrees(float(np.arctan2(across, along))),
        "displacement_power_factor": along / hypot(along, across),
        "voltage_thd_percent": thd_percent(volts),
        "current_thd_percent": thd_percent(amps),
    }


def together(volts: list[list[float]], amps: list[list[float]]) -> dict[str, float]:
    """Three phases: IEEE 1459-2010, 3.2; IEC 61000-4-30, 5.7; NEMA MG 1, 14.36 (all from memory)."""
    powers = [mean([u * i for u, i in zip(one, other, strict=True)]) for one, other in zip(volts, amps, strict=True)]
    arithmetic = sum(rms(one) * rms(other) for one, other in zip(volts, amps, strict=True))
    lines = [rms([a - b for a, b in zip(volts[k], volts[(k + 1) % 3], strict=True)]) for k in range(3)]
    equal_v = sqrt(sum(line * line for line in lines) / 9.0)
    equal_a = sqrt(sum(rms(each) ** 2 for each in amps) / 3.0)
    effective, middle = 3.0 * equal_v * equal_a, sum(lines) / 3.0
    found = {
        "line_voltage_rms_v.L1-L2": lines[0],
        "line_voltage_rms_v.L2-L3": lines[1],
        "line_voltage_rms_v.L3-L1": lines[2],
        "active_power_w": sum(powers),
        "arithmetic_apparent_power_va": arithmetic,
        "effective_apparent_power_va": effective,
        "effective_power_factor": sum(powers) / effective,
        "power_factor": sum(powers) / arithmetic,
        "voltage_max_deviation_percent": 100.0 * max(abs(line - middle) for line in lines) / middle,
    }
    for name, unit, three in (("voltage", "v", volts), ("current", "a", amps)):
        positive, negative, zero = (_sequence(three, turn) for turn in (1, -1, 0))
        found[f"{name}_positive_sequence_{unit}"], found[f"{name}_negative_sequence_{unit}"] = positive, negative
        found[f"{name}_zero_sequence_{unit}"] = zero
        found[f"{name}_unbalance_percent"] = 100.0 * negative / positive
    return found


def _sequence(three: list[list[float]], turn: int) -> float:
    """Fortescue 1918: the second wave is shifted forward by a third of a cycle, the third back, and the three are
    added in time; what is asked for is the fundamental of that mean."""
    third: int = POINTS // 3 * turn
    shifts = (0, third, -third)
    moved: NDArray[np.float64] = np.mean(
        [np.roll(np.array(values), -shift) for values, shift in zip(three, shifts, strict=True)], axis=0
    )
    return hypot(*projected(moved.tolist(), 1))
