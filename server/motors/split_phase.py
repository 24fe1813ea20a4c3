"""Single-phase induction motor whose start winding a switch opens near running speed."""

from server.motors.motor import Band, MotorType, Supply

SPLIT_PHASE = MotorType(
    key="split_phase",
    label="split phase",
    supply=Supply.ALTERNATING,
    voltage_place="supply",
    current_place="line",
    far_line=("speed_rpm", "current_rms_a", "voltage_rms_v"),
    has_slip=True,
    locked_current_ratio=Band(6.0, 8.0, "typical band (common practice)"),
)
