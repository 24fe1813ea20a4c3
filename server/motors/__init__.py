"""Motor types: one file each, listed in MOTOR_TYPES in reading order; the model of the same name is its twin."""

from server.motors.brushless import BRUSHLESS
from server.motors.motor import Band, MotorType, Supply
from server.motors.permanent_split_capacitor import PERMANENT_SPLIT_CAPACITOR
from server.motors.plate import check_plate, pole_pairs_of
from server.motors.three_phase_induction import THREE_PHASE_INDUCTION

MOTOR_TYPES: tuple[MotorType, ...] = (PERMANENT_SPLIT_CAPACITOR, THREE_PHASE_INDUCTION, BRUSHLESS)

__all__ = [
    "BRUSHLESS",
    "MOTOR_TYPES",
    "PERMANENT_SPLIT_CAPACITOR",
    "THREE_PHASE_INDUCTION",
    "Band",
    "MotorType",
    "Supply",
    "check_plate",
    "motor_type",
    "pole_pairs_of",
]


def motor_type(key: str) -> MotorType | None:
    """The type with this key; None: not set, or not known to this service."""
    return next((each for each in MOTOR_TYPES if each.key == key), None)
