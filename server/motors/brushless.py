"""Brushless motor on a DC link, phase leads U V W, usually with three Hall sensors."""

from server.motors.motor import MotorType, Supply

BRUSHLESS = MotorType(
    key="brushless",
    label="brushless",
    supply=Supply.DIRECT,
    voltage_place="dc link",
    current_place="dc link",
    far_line=("speed_rpm", "current_mean_a", "commutation_valid"),
    phases=("U", "V", "W"),
)
