"""Settings of the service and its rigs. Knows no motor: it keeps what a person wrote, and where."""

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Plate:
    """What the motor's plate says. None: not known."""

    voltage_v: float | None = None
    frequency_hz: float | None = None
    current_a: float | None = None
    speed_rpm: float | None = None
    pole_pairs: int | None = None
    power_w: float | None = None
    run_capacitor_uf: float | None = None
    locked_rotor_current_a: float | None = None
    hall_spacing_deg: int = 120


@dataclass(frozen=True, slots=True)
class MotorSettings:
    """Which motor hangs on the rig. `type` is a key of MOTOR_TYPES or empty."""

    name: str = ""
    type: str = ""
    plate: Plate = field(default_factory=Plate)


@dataclass(frozen=True, slots=True)
class RigSettings:
    """One rig: where its board is, and what a person said of it."""

    name: str
    port: str = ""  # a pyserial URL: device, pty or socket://host:port
    baud: int = 2_000_000
    motor: MotorSettings | None = None  # None: what the board says of its motor holds
    stopped_rpm: float = 5.0
    start_time_limit_s: float = 5.0
    rest_closes_run_s: float = 600.0
