"""Direct-current motor with a field beside the armature and another in series with it.

The band is that of a direct start.
"""

from server.motors.motor import Band, MotorType, Supply

COMPOUND_DC = MotorType(
    key="compound_dc",
    label="compound DC",
    supply=Supply.DIRECT,
    voltage_place="armature",
    current_place="armature",
    far_line=("speed_rpm", "current_mean_a", "voltage_mean_v"),
    locked_current_ratio=Band(6.0, 15.0, "typical band (those of series and shunt motors together, common practice)"),
    has_commutator=True,
    speed_ratio=Band(0.2, 1.5, "typical band (common practice)"),
)
