"""Direct-current motor with its field beside the armature. The band is that of a direct start."""

from server.motors.motor import Band, MotorType, Supply

SHUNT_DC = MotorType(
    key="shunt_dc",
    label="shunt DC",
    supply=Supply.DIRECT,
    voltage_place="armature",
    current_place="armature",
    far_line=("speed_rpm", "current_mean_a", "voltage_mean_v"),
    locked_current_ratio=Band(8.0, 15.0, "typical band (common practice)"),
    has_commutator=True,
    speed_ratio=Band(0.2, 1.5, "typical band (common practice)"),
)
