"""Small synchronous motor with a reluctance rotor that starts by its cage. Its slip is 0, or it has lost its step."""

from server.motors.motor import Band, MotorType, Supply

SYNCHRONOUS_RELUCTANCE = MotorType(
    key="synchronous_reluctance",
    label="synchronous, reluctance rotor",
    supply=Supply.ALTERNATING,
    voltage_place="supply",
    current_place="line",
    far_line=("speed_rpm", "current_rms_a", "voltage_rms_v"),
    has_slip=True,
    locked_current_ratio=Band(2.0, 3.0, "typical band (common practice)"),
)
