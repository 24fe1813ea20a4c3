"""Motor types: one file each, listed in MOTOR_TYPES in reading order; the model of the same name is its twin."""

from server.motors.brushless import BRUSHLESS
from server.motors.capacitor_start import CAPACITOR_START
from server.motors.compound_dc import COMPOUND_DC
from server.motors.lines import PredictedLine, predicted_lines
from server.motors.motor import Band, MotorType, Supply
from server.motors.permanent_magnet_dc import PERMANENT_MAGNET_DC
from server.motors.permanent_split_capacitor import PERMANENT_SPLIT_CAPACITOR
from server.motors.plate import check_plate, pole_pairs_of
from server.motors.series_dc import SERIES_DC
from server.motors.servo import SERVO
from server.motors.shaded_pole import SHADED_POLE
from server.motors.shunt_dc import SHUNT_DC
from server.motors.split_phase import SPLIT_PHASE
from server.motors.stepper import STEPPER
from server.motors.synchronous import SYNCHRONOUS
from server.motors.synchronous_reluctance import SYNCHRONOUS_RELUCTANCE
from server.motors.three_phase_induction import THREE_PHASE_INDUCTION
from server.motors.universal import UNIVERSAL

MOTOR_TYPES: tuple[MotorType, ...] = (
    PERMANENT_SPLIT_CAPACITOR,
    SPLIT_PHASE,
    CAPACITOR_START,
    SHADED_POLE,
    THREE_PHASE_INDUCTION,
    SYNCHRONOUS,
    SYNCHRONOUS_RELUCTANCE,
    UNIVERSAL,
    SERIES_DC,
    SHUNT_DC,
    COMPOUND_DC,
    PERMANENT_MAGNET_DC,
    STEPPER,
    SERVO,
    BRUSHLESS,
)

__all__ = [
    "BRUSHLESS",
    "MOTOR_TYPES",
    "PERMANENT_SPLIT_CAPACITOR",
    "THREE_PHASE_INDUCTION",
    "Band",
    "MotorType",
    "PredictedLine",
    "Supply",
    "check_plate",
    "motor_type",
    "pole_pairs_of",
    "predicted_lines",
]


def motor_type(key: str) -> MotorType | None:
    """The type with this key; None: not set, or not known to this service."""
    return next((each for each in MOTOR_TYPES if each.key == key), None)
