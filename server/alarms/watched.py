"""Which figures are watched for drift, and what they are made of: readings, or how the motor coasts. Records and
arithmetic.

What moves with the supply is divided by it: a battery that empties is no wear. What moves with the load is watched in
two figures that a load moves apart and wear moves together, and both must have drifted.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from math import pi
from typing import TypeAlias

from server.alarms.coasting import DRY_RPM_S, TO_HALF_S

Numbers: TypeAlias = Mapping[str, float]  # good readings that are numbers, by their id
TEMPERATURE, AMBIENT = "temperature_c.", "temperature_c.ambient"


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
COASTING = (  # a shorter time alone may be more fan
    Figure("time to half the speed", "s", lambda numbers: numbers.get(TO_HALF_S), -1),
    Figure("dry friction", "r/min/s", lambda numbers: numbers.get(DRY_RPM_S), 1),
)

FIGURES: dict[str, tuple[Figures, ...]] = {  # by the name of the ready rule; any of several, as the board has channels
    "brush_wear": (BRUSHED,),
    "capacitor_ageing": (CAPACITANCE, BY_PHASE),
    "bearing_friction": (COASTING,),
}


def figures_of(name: str, reading: str) -> tuple[Figures, ...]:
    """What the drift rule of that name watches: that of a ready one, or the reading that a person named."""
    if reading.startswith(TEMPERATURE) and reading != AMBIENT:
        return _warmth(reading)
    return ((alone(reading),),) if reading else FIGURES[name]


def _warmth(reading: str) -> tuple[Figures, ...]:
    """Of a temperature: by how much it lies above the air, for the heat that is made. A part of that goes with the
    power and a part with the square of the current: more load moves the first figure up and the second down.

    Where the air is not measured, the temperature as it is: a room that gets warm is then a drift too.
    """

    def over(numbers: Numbers, heat: float | None) -> float | None:
        warm, air = numbers.get(reading), numbers.get(AMBIENT)
        return None if warm is None or air is None or not heat else (warm - air) / heat

    def as_it_is(numbers: Numbers) -> float | None:
        return None if AMBIENT in numbers else numbers.get(reading)

    per_watt = Figure("rise per watt", "K/W", lambda numbers: over(numbers, abs(numbers.get("active_power_w", 0.0))), 1)
    per_square = Figure(
        "rise per square of the current",
        "K/A\u00b2",
        lambda numbers: over(numbers, numbers.get("current_rms_a", 0.0) ** 2),
        1,
    )
    return (per_watt, per_square), (Figure(reading, "\u00b0C", as_it_is, 1),)
