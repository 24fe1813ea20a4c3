"""Single-phase induction motor with short-circuited rings round a part of its poles.

Its current is nearly the same running and held: only its shaft tells.
"""

from server.motors.motor import Band, MotorType, Supply

SHADED_POLE = MotorType(
    key="shaded_pole",
    label="shaded pole",
    supply=Supply.ALTERNATING,
    voltage_place="supply",
    current_place="line",
    far_line=("speed_rpm", "current_rms_a", "voltage_rms_v"),
    has_slip=True,
    locked_current_ratio=Band(1.2, 1.8, "typical band (common practice)"),
)
