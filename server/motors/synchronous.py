"""Small synchronous motor with a magnet rotor, two windings and a capacitor. Its slip is 0, or it has lost its step."""

from server.motors.motor import Band, MotorType, Supply

SYNCHRONOUS = MotorType(
    key="synchronous",
    label="synchronous, magnet rotor",
    supply=Supply.ALTERNATING,
    voltage_place="supply",
    current_place="line",
    far_line=("speed_rpm", "current_rms_a", "voltage_rms_v"),
    has_slip=True,
    locked_current_ratio=Band(1.0, 1.5, "typical band (common practice)"),
)
