"""Direct-current motor that a bridge makes follow a wanted position."""

from server.motors.motor import MotorType, Supply

SERVO = MotorType(
    key="servo",
    label="servo",
    supply=Supply.DIRECT,
    voltage_place="bridge",
    current_place="motor",
    far_line=("speed_rpm", "current_mean_a", "voltage_mean_v"),
    holds=True,
)
