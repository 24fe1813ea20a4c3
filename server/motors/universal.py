"""Series motor with a commutator for mains, which also runs on direct current; measured at its own terminals."""

from server.motors.motor import Band, MotorType, Supply

UNIVERSAL = MotorType(
    key="universal",
    label="universal",
    supply=Supply.ALTERNATING,
    voltage_place="motor",
    current_place="motor",
    far_line=("speed_rpm", "current_rms_a", "voltage_rms_v"),
    locked_current_ratio=Band(3.0, 8.0, "typical band (common practice)"),
    has_commutator=True,
    speed_ratio=Band(0.2, 2.5, "typical band (common practice)"),
)
