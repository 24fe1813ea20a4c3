"""Direct-current motor with a field of magnets; measured at its own terminals."""

from server.motors.motor import Band, MotorType, Supply

PERMANENT_MAGNET_DC = MotorType(
    key="permanent_magnet_dc",
    label="permanent magnet DC",
    supply=Supply.DIRECT,
    voltage_place="motor",
    current_place="motor",
    far_line=("speed_rpm", "current_mean_a", "voltage_mean_v"),
    locked_current_ratio=Band(5.0, 10.0, "typical band (common practice)"),
    has_commutator=True,
    speed_ratio=Band(0.2, 1.5, "typical band (common practice)"),
)
