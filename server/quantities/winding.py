"""Resistance of a winding on direct current at rest, and how warm it is by that. Pure: of one window alone.

A resistance is one only while nothing else opposes the current: the shaft stands and no current alternates.
"""

from dataclasses import replace
from math import inf, sqrt

from server.config import Plate
from server.motors import MotorType, Supply
from server.quantities.analysis import Analysis
from server.quantities.quantity import Quantity
from server.quantities.reasons import AC_COUPLED, given, hides_direct, joined
from server.quantities.uncertainty import Standard, combined, scaled
from server.readings import Reading, Uncertainty, absent

WINDING = (
    Quantity(
        *("winding_resistance_ohm", "R", "winding resistance", "Ω", 3),
        "(mean voltage - brush drop) / mean current, direct current through a shaft that stands",
        *("IEC 60034-1, 8.6 (from memory); brushes: common practice", "voltage and current, and that the shaft stands"),
    ),
    Quantity(
        *("winding_temperature_c", "ϑ_Cu", "winding temperature by resistance", "°C", 0),
        "R / R_1 x (235 + t_1) - 235 with R_1 at t_1 from the plate; copper",
        *("IEC 60034-1, 8.6.2 (from memory)", "winding resistance, and that of the plate"),
    ),
    Quantity(
        *("winding_rise_k", "Δϑ", "winding, warmer than at the plate's resistance", "K", 0),
        "(R / R_1 - 1) (235 + t_1); copper",
        *("IEC 60034-1, 8.6.2 (from memory)", "winding resistance, and that of the plate"),
    ),
)
COPPER_C = 235.0  # by IEC 60034-1 (from memory); 234.5 in other books, 0.1 K less at 80 degrees
_BRUSHES = 0.2  # of their drop, by which it may be another one (common practice)
_RESISTANCE, _WARMTH = "winding_resistance_ohm", ("winding_temperature_c", "winding_rise_k")
_STANDING = 0.01  # of the plate speed
_LEAST_A = 0.02  # of the plate current


def temperature_c(ohm: float, cold_ohm: float, cold_c: float, constant_c: float = COPPER_C) -> float:
    """Mean temperature of a winding by its resistance. Example: 80 ohm at 20 degrees, then 100 ohm: 83.75 degrees."""
    return ohm / cold_ohm * (constant_c + cold_c) - constant_c


def winding_readings(a: Analysis, motor: MotorType | None, plate: Plate, speed: Reading | None) -> list[Reading]:
    """Readings of `WINDING`: of motors with brushes on direct current, and where the plate has a resistance."""
    volts, amps = a.layout.main(voltage=True), a.layout.main(voltage=False)
    known = plate.winding_resistance_ohm is not None
    brushed = motor is not None and motor.has_commutator and motor.supply is Supply.DIRECT
    if motor is None or motor.phases or volts is None or amps is None or not (known or brushed):
        return []
    keys = (_RESISTANCE, *(_WARMTH if known else ()))
    if why_not := _no_resistance(a, volts, amps, motor, plate, speed):
        return [absent(key, why_not) for key in keys]
    drop = (plate.brush_drop_v or 0.0) if motor.has_commutator else 0.0
    current = abs(a.mean[amps])
    ohm = (abs(a.mean[volts]) - drop) / current
    unknown = "the drop of the brushes is in it" if motor.has_commutator and plate.brush_drop_v is None else ""
    late = speed.reason if motor.has_commutator and speed is not None else ""
    doubt = joined(unknown, late, a.clipped[volts], a.clipped[amps], a.partial)
    sure = None if doubt else _sure(a, volts, amps, ohm, drop)
    reading = given(_RESISTANCE, ohm, "", doubt, None, sure)
    return [reading, *(_warmth(ohm, plate, doubt, sure) if known else [])]


def _no_resistance(a: Analysis, volts: int, amps: int, motor: MotorType, plate: Plate, speed: Reading | None) -> str:
    if hides_direct(a.layout.rows[amps]):
        return AC_COUPLED
    if not a.rms[amps] or a.rms[amps] < max(a.layout.rows[amps].limit, _LEAST_A * (plate.current_a or 0.0)):
        return "no current flows"
    if a.frequency_hz is not None or abs(a.mean[amps]) < 0.9 * a.rms[amps] or abs(a.mean[volts]) < 0.9 * a.rms[volts]:
        return "no direct current flows"
    if motor.has_commutator and not _stands(speed, plate):
        return "it needs a shaft that is known to stand"
    return "" if abs(a.mean[volts]) > (plate.brush_drop_v or 0.0) else "the voltage is below the drop of the brushes"


def _stands(speed: Reading | None, plate: Plate) -> bool:
    """Or turns so slowly at most that its EMF is of no account."""
    if speed is None or not isinstance(speed.value, float):
        return False
    return abs(speed.value) <= _STANDING * (plate.speed_rpm or 0.0)


def _sure(a: Analysis, volts: int, amps: int, ohm: float, drop: float) -> Uncertainty | None:
    if a.spreads[volts].why_not or a.spreads[amps].why_not:
        return None
    current = abs(a.mean[amps])
    parts: list[Standard] = [(what, part / current, dof) for what, part, dof in a.mean_parts(volts)]
    parts += [(what, part * ohm / current, dof) for what, part, dof in a.mean_parts(amps)]
    if drop:
        parts.append(("drop of the brushes", _BRUSHES * drop / current / sqrt(3.0), inf))
    return combined(ohm, parts)


def _warmth(ohm: float, plate: Plate, doubt: str, sure: Uncertainty | None) -> list[Reading]:
    """The plate's resistance is taken as exact: one that was noted at another temperature moves all alike."""
    cold_ohm, cold_c = plate.winding_resistance_ohm or 1.0, plate.winding_resistance_c
    warm_c = temperature_c(ohm, cold_ohm, cold_c)
    per_ohm = (COPPER_C + cold_c) / cold_ohm
    readings = []
    for key, value in zip(_WARMTH, (warm_c, warm_c - cold_c), strict=True):
        of_ohm = None if sure is None else _moved(scaled(sure, per_ohm), value - per_ohm * ohm)
        readings.append(given(key, value, "", doubt, None, of_ohm))
    return readings


def _moved(sure: Uncertainty, by: float) -> Uncertainty:
    return replace(sure, low=sure.low + by, high=sure.high + by)
