"""Single-phase induction motor with a run capacitor that stays in circuit."""

from server.motors.motor import Band, MotorType, Supply

PERMANENT_SPLIT_CAPACITOR = MotorType(
    key="permanent_split_capacitor",
    label="permanent split capacitor",
    supply=Supply.ALTERNATING,
    voltage_place="supply",
    current_place="line",
    far_line=("speed_rpm", "current_rms_a", "voltage_rms_v"),
    has_slip=True,
    locked_current_ratio=Band(2.0, 3.5, "typical band (common practice)"),
)
