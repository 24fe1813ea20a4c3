"""Single-phase induction motor with a capacitor for starting; another one may stay in circuit."""

from server.motors.motor import Band, MotorType, Supply

CAPACITOR_START = MotorType(
    key="capacitor_start",
    label="capacitor start",
    supply=Supply.ALTERNATING,
    voltage_place="supply",
    current_place="line",
    far_line=("speed_rpm", "current_rms_a", "voltage_rms_v"),
    has_slip=True,
    locked_current_ratio=Band(4.0, 6.0, "typical band (common practice)"),
)
