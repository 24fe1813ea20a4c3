"""Which figures are watched for drift, and what they are made of: readings, or how long the motor coasts. Records and
arithmetic.

What moves with the supply is divided by it: a battery that empties is no wear.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from math import pi
from typing import TypeAlias

Numbers: TypeAlias = Mapping[str, float]  # good readings that are numbers, by their id
COAST = "coast_to_half_s"  # made of the speeds of a coast-down, not of a window


@dataclass(frozen=True, slots=True)
class Figure:
    """`of` gives its value, None where a reading is missing; `sign`: which way is bad (-1 down, 1 up, 0 either)."""

    name: str
    unit: str
    of: Callable[[Numbers], float | None]
    sign: int = 0


Figures: TypeAlias = tuple[Figure, ...]  # of which all must have drifted


def alone(reading: str, unit: str = "", sign: int = 0) -> Figure:
    """A reading as it is."""
    return Figure(reading, unit, lambda numbers: numbers.get(reading), sign)


def _per_volt(reading: str, voltage: str, unit: str, sign: int) -> Figure:
    def of(numbers: Numbers) -> float | None:
        value, volts = numbers.get(reading), numbers.get(voltage)
        return None if value is None or not volts else abs(value / volts)

    return Figure(f"{reading} per volt", f"{unit}/V", of, sign)


def _capacitance_uf(numbers: Numbers) -> float | None:
    """C = I / (2 pi f U) of sine waves, of the run capacitor that the auxiliary current flows through."""
    amps, volts = numbers.get("current_fundamental_a.auxiliary"), numbers.get("voltage_fundamental_v.capacitor")
    hertz = numbers.get("frequency_hz")
    if amps is None or not volts or not hertz:
        return None
    return 1e6 * amps / (2.0 * pi * hertz * volts)


BRUSHED = (
    _per_volt("speed_rpm", "voltage_mean_v", "r/min", -1),
    _per_volt("current_mean_a", "voltage_mean_v", "A", -1),
)
CAPACITANCE = (Figure("run capacitor", "\u00b5F", _capacitance_uf, -1),)
BY_PHASE = (alone("phase_angle_deg", "\u00b0", 1), _per_volt("current_rms_a", "voltage_rms_v", "A", 1))
COASTING = (alone(COAST, "s", -1),)

FIGURES: dict[str, tuple[Figures, ...]] = {  # by the name of the ready rule; any of several, as the board has channels
    "brush_wear": (BRUSHED,),
    "capacitor_ageing": (CAPACITANCE, BY_PHASE),
    "bearing_friction": (COASTING,),
}


def figures_of(name: str, reading: str) -> tuple[Figures, ...]:
    """What the drift rule of that name watches: that of a ready one, or the reading that a person named."""
    return ((alone(reading),),) if reading else FIGURES[name]
