"""Is the motor in the settings one that exists? The motor types know; the answer names file and line of the text."""

from difflib import get_close_matches

from server.config import ConfigError, MotorSettings, RigText
from server.motors import MOTOR_TYPES, check_plate, motor_type


def check_motor(text: RigText) -> None:
    """Raises ConfigError for a type nobody knows and for a plate that cannot be."""
    motor = text.settings.motor
    if motor is None:
        return
    complaint = _type_complaint(motor)
    if complaint is not None:
        raise text.error("motor.type", *complaint)
    for key, sentence in check_plate(motor.plate, motor_type(motor.type)):
        raise text.error(f"motor.plate.{key}", sentence, "write what the plate says")


def check_said_motor(motor: MotorSettings, who: str) -> None:
    """The same for a motor that `who` (a board, the page) tells of without a file."""
    complaint = _type_complaint(motor)
    if complaint is not None:
        raise ConfigError(who, None, *complaint)
    for _, sentence in check_plate(motor.plate, motor_type(motor.type)):
        raise ConfigError(who, None, sentence, "write what the plate says")


def _type_complaint(motor: MotorSettings) -> tuple[str, str] | None:
    if not motor.type or motor_type(motor.type) is not None:
        return None
    known = [each.key for each in MOTOR_TYPES]
    near = get_close_matches(motor.type, known, n=1, cutoff=0.5)
    instead = f'write type = "{near[0]}"' if near else f"known are {', '.join(known)}; leave it out for another"
    return f'there is no motor type "{motor.type}"', instead
