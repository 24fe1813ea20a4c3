"""Direct-current motor with its field in series; measured at its own terminals."""

from server.motors.motor import Band, MotorType, Supply

SERIES_DC = MotorType(
    key="series_dc",
    label="series DC",
    supply=Supply.DIRECT,
    voltage_place="motor",
    current_place="motor",
    far_line=("speed_rpm", "current_mean_a", "voltage_mean_v"),
    locked_current_ratio=Band(6.0, 12.0, "typical band (common practice)"),
    has_commutator=True,
    speed_ratio=Band(0.2, 4.0, "typical band (common practice)"),
)
