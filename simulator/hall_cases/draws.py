"""Faults of wiring, sensors and bridge drawn by name, as controls: cases to try a judgement on.

Names are those of simulator/stories/motor_faults.py. Sizes: common practice, no published source.
"""

from collections.abc import Callable, Mapping
from typing import TypeAlias

import numpy as np

from simulator.motors.brushless import CONTROLS

Drawn: TypeAlias = Mapping[str, float | str]
Draw: TypeAlias = np.random.Generator
_WORDS = {control.name: control.words for control in CONTROLS}
SENSORS = ("A", "B", "C")


def draw_fault(name: str, draw: Draw) -> Drawn:
    """One draw of that fault. KeyError: there is none of that name among HALL_FAULTS."""
    return HALL_FAULTS[name](draw)


def _one(name: str, words: tuple[str, ...] = ()) -> Callable[[Draw], Drawn]:
    """One of `words`, or of all words of the control but the first, which is none."""
    of = words or _WORDS[name][1:]
    return lambda draw: {name: str(draw.choice(of))}


def _size(names: tuple[str, ...], low: float, high: float, *, either: bool = True) -> Callable[[Draw], Drawn]:
    """A size within low and high, to either side, of one of the controls."""

    def drawn(draw: Draw) -> Drawn:
        size = float(draw.uniform(low, high))
        return {str(draw.choice(names)): -size if either and draw.integers(2) else size}

    return drawn


def _either(*faults: Callable[[Draw], Drawn]) -> Callable[[Draw], Drawn]:
    return lambda draw: faults[draw.integers(len(faults))](draw)


def _together(*faults: Callable[[Draw], Drawn]) -> Callable[[Draw], Drawn]:
    return lambda draw: {name: value for fault in faults for name, value in fault(draw).items()}


def _each(name: str, values: tuple[float, ...]) -> Callable[[Draw], Drawn]:
    return lambda draw: {name: float(draw.choice(values))}


_PHASES = tuple(f"phase_{x}_open" for x in "uvw")
_FACTORS = tuple(f"phase_{x}_ohm_factor" for x in "uvw")
_OUTPUTS = ("U", "V", "W")
HALL_FAULTS: Mapping[str, Callable[[Draw], Drawn]] = {
    "hall_order": _one("hall_order"),
    "hall_inverted": _one("hall_inverted"),
    "hall_spacing": _each("hall_spacing_deg", (60.0,)),
    "phases_exchanged": _one("phase_order"),
    "leads_exchanged": _one("lead_order"),
    "hall_stuck": _either(_one("hall_stuck_low", SENSORS), _one("hall_stuck_high", SENSORS)),
    "hall_joined": _together(_one("hall_joined"), _each("hall_joined_high", (0.0, 1.0))),
    "hall_floating": _one("hall_floating", (*SENSORS, "A+B+C")),
    "hall_supply_lost": _one("hall_supply_fault"),
    "hall_intermittent": _together(_one("hall_intermittent", SENSORS), _size(("hall_bursts_hz",), 2, 8, either=False)),
    "hall_pulses": _together(
        _one("hall_pulses", (*SENSORS, "A+B+C")), _size(("hall_pulses_hz",), 30, 200, either=False)
    ),
    "hall_misplaced": _size(tuple(f"hall_{x}_late_deg" for x in "abc"), 8, 25),
    "hall_timing": _size(("hall_late_deg",), 10, 30),
    "hall_duty": _size(("hall_wider_deg", *(f"hall_{x}_wider_deg" for x in "abc")), 10, 25),
    "magnets_uneven": _size(("hall_magnets_deg",), 3, 8, either=False),
    "hall_hysteresis": _each("hall_hysteresis_deg", (5.0,)),
    "edges_missed": _size(("edges_missed",), 0.02, 0.1, either=False),
    "edges_doubled": _size(("edges_doubled",), 0.02, 0.1, either=False),
    "phase_open": lambda draw: {str(draw.choice(_PHASES)): 1.0},
    "phase_resistance": lambda draw: {str(draw.choice(_FACTORS)): 1.2},
    "switch_dead": _either(_one("upper_switch_dead", _OUTPUTS), _one("lower_switch_dead", _OUTPUTS)),
}
