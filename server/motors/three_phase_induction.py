"""Three-phase induction motor, lines L1 L2 L3."""

from server.motors.motor import Band, MotorType, Supply

THREE_PHASE_INDUCTION = MotorType(
    key="three_phase_induction",
    label="three-phase induction",
    supply=Supply.ALTERNATING,
    voltage_place="L1",
    current_place="L1",
    far_line=("speed_rpm", "current_rms_a", "voltage_rms_v"),
    has_slip=True,
    phases=("L1", "L2", "L3"),
    locked_current_ratio=Band(4.0, 7.0, "typical band (common practice)"),
)
