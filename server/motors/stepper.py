"""Two-phase stepping motor. The voltage across a coil alternates with a quarter of its steps."""

from server.motors.motor import MotorType, Supply

STEPPER = MotorType(
    key="stepper",
    label="stepping",
    supply=Supply.ALTERNATING,
    voltage_place="coil 1",
    current_place="coil 1",
    far_line=("speed_rpm", "current_rms_a", "voltage_rms_v"),
    holds=True,
)
