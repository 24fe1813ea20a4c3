"""What is true of waves, by the definitions: IEEE 1459-2010, Fortescue 1918, NEMA MG 1 (from memory)."""

from math import atan2, cos, degrees, hypot, sqrt

import numpy as np

from tests.coverage.waves import Wave

_TURN = np.exp(2j * np.pi / 3)


def behind(key: str, place: str) -> str:
    return f"{key}.{place}" if place else key


def single(voltage: Wave, current: Wave, place: str) -> dict[str, float]:
    """IEEE 1459-2010, 3.1 (from memory) for one phase."""
    products = voltage.phasors * current.phasors.conj()
    power = voltage.mean * current.mean + float(products.real.sum())
    apparent, first = voltage.rms * current.rms, complex(products[0])
    dense, high = (np.abs(wave.at(np.arange(8192) / 8192.0, 1.0)) for wave in (current, voltage))
    found = {
        "voltage_rms_v": voltage.rms,
        "current_rms_a": current.rms,
        "voltage_mean_v": voltage.mean,
        "current_mean_a": current.mean,
        "current_peak_a": float(dense.max()),
        "current_crest_factor": float(dense.max()) / current.rms,
        "voltage_half_cycle_min_v": voltage.rms,
        "voltage_half_cycle_max_v": voltage.rms,
        "current_half_cycle_min_a": current.rms,
        "current_half_cycle_max_a": current.rms,
        "voltage_peak_v": float(high.max()),
        "voltage_crest_factor": float(high.max()) / voltage.rms,
        "active_power_w": power,
        "apparent_power_va": apparent,
        "power_factor": power / apparent,
        "non_active_power_var": sqrt(max(apparent**2 - power**2, 0.0)),
        "phase_angle_deg": degrees(atan2(first.imag, first.real)),
        "displacement_power_factor": cos(atan2(first.imag, first.real)),
        "fundamental_reactive_power_var": first.imag,
        "voltage_fundamental_v": float(abs(voltage.phasors[0])),
        "current_fundamental_a": float(abs(current.phasors[0])),
        "voltage_thd_percent": _thd(voltage),
        "current_thd_percent": _thd(current),
    }
    return {behind(key, place): value for key, value in found.items()}


def angles(waves: list[Wave], role: str, against: Wave) -> dict[str, float]:
    """By how much each fundamental leads that of the first voltage; not of that one itself."""
    places = ("", "L2", "L3")
    turned = [complex(wave.phasors[0] * against.phasors[0].conj()) for wave in waves]
    return {
        behind(f"{role}_angle_deg", place): degrees(atan2(each.imag, each.real))
        for place, each, wave in zip(places, turned, waves, strict=False)
        if wave is not against
    }


def _thd(wave: Wave) -> float:
    sizes = np.abs(wave.phasors)
    return 100.0 * float(np.sqrt((sizes[1:] ** 2).sum()) / sizes[0])


def three(volts: list[Wave], amps: list[Wave]) -> dict[str, float]:
    """Three phases: each as above, and together (IEEE 1459-2010, 3.2; Fortescue 1918; NEMA MG 1; from memory)."""
    found: dict[str, float] = {}
    for voltage, current, place in zip(volts, amps, ("L1", "L2", "L3"), strict=True):
        its = single(voltage, current, "")
        main = ("voltage_", "current_")
        found |= {
            behind(key, "" if key.startswith(main) and place == "L1" else place): each for key, each in its.items()
        }
    power = sum(found[f"active_power_w.{place}"] for place in ("L1", "L2", "L3"))
    arithmetic = sum(found[f"apparent_power_va.{place}"] for place in ("L1", "L2", "L3"))
    between = [_between(volts[k], volts[(k + 1) % 3]) for k in range(3)]
    mean = sum(between) / 3.0
    found |= dict(zip((f"line_voltage_rms_v.{pair}" for pair in ("L1-L2", "L2-L3", "L3-L1")), between, strict=True))
    effective = 3.0 * sqrt(sum(each**2 for each in between) / 9.0 * sum(each.rms**2 for each in amps) / 3.0)
    found |= {
        "active_power_w": power,
        "arithmetic_apparent_power_va": arithmetic,
        "effective_apparent_power_va": effective,
        "power_factor": power / arithmetic,
        "effective_power_factor": power / effective,
        "non_active_power_var": sqrt(max(arithmetic**2 - power**2, 0.0)),
        "voltage_max_deviation_percent": 100.0 * max(abs(each - mean) for each in between) / mean,
    }
    for waves, name, unit in ((volts, "voltage", "v"), (amps, "current", "a")):
        a, b, c = (complex(wave.phasors[0]) for wave in waves)
        positive, negative = abs(a + _TURN * b + _TURN**2 * c) / 3, abs(a + _TURN**2 * b + _TURN * c) / 3
        found[f"{name}_positive_sequence_{unit}"], found[f"{name}_negative_sequence_{unit}"] = positive, negative
        found[f"{name}_zero_sequence_{unit}"] = abs(a + b + c) / 3
        found[f"{name}_unbalance_percent"] = 100.0 * negative / positive
    return found


def _between(one: Wave, other: Wave) -> float:
    return hypot(one.mean - other.mean, float(np.sqrt((np.abs(one.phasors - other.phasors) ** 2).sum())))
