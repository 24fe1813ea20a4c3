"""What a plate may say, and what follows from it. Knows no single motor."""

from math import floor, isfinite

from server.config import Plate
from server.motors.motor import MotorType

_POSITIVE = (
    "voltage_v",
    "frequency_hz",
    "current_a",
    "speed_rpm",
    "power_w",
    "run_capacitor_uf",
    "locked_rotor_current_a",
    "winding_resistance_ohm",
    "back_emf_constant",
)
_ALMOST = 1e-6  # a synchronous speed on a plate is exact


def pole_pairs_of(plate: Plate) -> int | None:
    """Pole pairs as written, else the largest whole number whose synchronous speed is not below the plate's speed.

    Example: 1420 r/min at 50 Hz: 60 x 50 / 1420 = 2.11, so 2. None where the plate does not say enough.
    """
    if plate.pole_pairs is not None:
        return plate.pole_pairs
    if not plate.frequency_hz or not plate.speed_rpm:
        return None
    return max(1, floor(60.0 * plate.frequency_hz / plate.speed_rpm + _ALMOST))


def check_plate(plate: Plate, motor: MotorType | None = None) -> list[tuple[str, str]]:
    """What cannot be true of a plate: (key, what to write instead). An empty list: nothing is wrong.

    `motor`: its type, where it is known; one with a commutator may turn faster than its supply's field would.
    """
    complaints = [
        (name, f"{name} must be a number above 0, not {value:g}")
        for name in _POSITIVE
        if (value := getattr(plate, name)) is not None and not (isfinite(value) and value > 0)
    ]
    if plate.pole_pairs is not None and plate.pole_pairs < 1:
        complaints.append(("pole_pairs", f"pole_pairs must be 1 or more, not {plate.pole_pairs}"))
    complaints += [
        (name, f"{name} must be {least} or more, not {value}")
        for name, least in (("rotor_slots", 1), ("commutator_bars", 2))
        if (value := getattr(plate, name)) is not None and value < least
    ]
    if plate.hall_spacing_deg not in (60, 120):
        complaints.append(("hall_spacing_deg", f"hall_spacing_deg must be 60 or 120, not {plate.hall_spacing_deg}"))
    wrong = {key for key, _ in complaints}
    return complaints + [complaint for complaint in _contradictions(plate, motor) if complaint[0] not in wrong]


def _contradictions(plate: Plate, motor: MotorType | None) -> list[tuple[str, str]]:
    complaints = []
    if plate.locked_rotor_current_a and plate.current_a and plate.locked_rotor_current_a < plate.current_a:
        text = f"{plate.locked_rotor_current_a:g} A is below the plate current, {plate.current_a:g} A"
        complaints.append(("locked_rotor_current_a", text))
    slips = motor is None or motor.has_slip
    if slips and plate.frequency_hz and plate.speed_rpm and plate.pole_pairs and plate.pole_pairs > 0:
        limit = 60.0 * plate.frequency_hz / plate.pole_pairs
        if plate.speed_rpm > limit * (1 + _ALMOST):
            turns = f"{plate.speed_rpm:g} r/min is above {limit:g} r/min"
            pairs = "one pole pair" if plate.pole_pairs == 1 else f"{plate.pole_pairs} pole pairs"
            text = f"{turns}, the synchronous speed of {pairs}"
            complaints.append(("speed_rpm", text))
    return complaints
