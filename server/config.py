"""Settings of the service and its rigs. Knows no motor: it keeps what a person wrote, and where."""

from dataclasses import dataclass, field
from typing import Final

SPEED_UNITS: Final = ("r/min", "rad/s")
TRIP_CLASSES: Final = ("5", "10A", "10", "20", "30")  # of overload relays (IEC 60947-4-1, from memory)


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
    rotor_slots: int | None = None  # bars of a cage
    commutator_bars: int | None = None
    winding_resistance_ohm: float | None = None  # between two terminals, at winding_resistance_c
    winding_resistance_c: float = 20.0
    back_emf_constant: float | None = None  # V s/rad between two terminals
    brush_drop_v: float | None = None  # of the pair


@dataclass(frozen=True, slots=True)
class MotorSettings:
    """Which motor hangs on the rig. `type` is a key of MOTOR_TYPES or empty."""

    name: str = ""
    type: str = ""
    plate: Plate = field(default_factory=Plate)


@dataclass(frozen=True, slots=True)
class ChannelSettings:
    """What a person said of a channel where the board's own word is wrong or missing; empty: the board's word holds.

    `channel`: its name, or its index in digits.
    """

    channel: str
    role: str = ""
    place: str = ""


@dataclass(frozen=True, slots=True)
class Limit:
    """Between which values a person wants a reading to stay; `reading` is its id, None: no limit on that side."""

    reading: str
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, slots=True)
class Wires:
    """What a person calls the wires on the three Hall inputs and the leads on U, V, W, as they are plugged now."""

    hall_a: str = ""
    hall_b: str = ""
    hall_c: str = ""
    lead_u: str = ""
    lead_v: str = ""
    lead_w: str = ""


@dataclass(frozen=True, slots=True)
class AlarmSettings:
    """What a person wants to be told of. `name` is theirs, or that of a ready rule, which then fills what is not said.

    One of `reading` (with `low`, `high` or both), `event`, `verdict`, `no_samples_s`, `drift` (id of a reading) or
    `state` alone says what raises it; `state` beside another one: only while the motor is in it. `hold_s`: it must be
    so for so long, and over for so long to end; `return_gap`: so far inside the limit it must come back.
    `least_percent`: a smaller drift is none. `trip_class`: of the overload relay that would judge it. `rank`: "alarm",
    "caution", "off", or empty as the ready rule has it. `act`: what to do first, in words.
    """

    name: str
    rank: str = ""
    act: str = ""
    reading: str = ""
    low: float | None = None
    high: float | None = None
    return_gap: float | None = None
    hold_s: float | None = None
    state: str = ""
    event: str = ""
    verdict: str = ""
    no_samples_s: float | None = None
    drift: str = ""
    least_percent: float | None = None
    trip_class: str = ""


@dataclass(frozen=True, slots=True)
class Calling:
    """Whom to call, and when not. `alarm`, `caution`: names of receivers, commas between. Between `quiet_from` and
    `quiet_to`, local time of the PC as "22:00", cautions wait; alarms never do. Both or none is set."""

    alarm: str = ""
    caution: str = ""
    quiet_from: str = ""
    quiet_to: str = ""


@dataclass(frozen=True, slots=True)
class Space:
    """What a person agreed to for when room gets short. `thin_raw`: "agreed", or empty: nothing is ever given up.

    `around_s`: so long before and after each event and alarm samples are kept whole, and `each_hour_s` of each hour.
    """

    thin_raw: str = ""
    around_s: float = 30.0
    each_hour_s: float = 60.0


@dataclass(frozen=True, slots=True)
class RigSettings:
    """One rig: where its board is, and what a person said of it.

    `speed_unit` is how speeds are shown to a person; readings are in r/min whatever it is.
    """

    name: str
    port: str = ""  # a pyserial URL: device, pty or socket://host:port
    baud: int = 2_000_000
    motor: MotorSettings | None = None  # None: what the board says of its motor holds
    stopped_rpm: float = 5.0
    start_time_limit_s: float = 5.0
    rest_closes_run_s: float = 600.0
    speed_unit: str = SPEED_UNITS[0]
    channels: tuple[ChannelSettings, ...] = ()
    limits: tuple[Limit, ...] = ()
    wires: Wires = Wires()
    alarms: tuple[AlarmSettings, ...] = ()
    calling: Calling = Calling()
    space: Space = Space()


class ConfigError(ValueError):
    """A setting that cannot be used: where it stands, what is wrong, what to write instead. Printed, one sentence.

    `key`: which setting, as in `motor.plate.speed_rpm`; empty where it is none of them.
    """

    def __init__(self, file: str, line: int | None, what: str, instead: str, key: str = "") -> None:
        self.file, self.line, self.what, self.instead, self.key = file, line, what, instead, key
        place = f"{file}, line {line}: " if file and line else f"{file}: " if file else ""
        super().__init__(f"{place}{what}; {instead}.")


@dataclass(frozen=True, slots=True)
class RigText:
    """Settings as a person wrote them: the records, and the line of every key (`motor.plate.speed_rpm` -> 11)."""

    file: str
    settings: RigSettings
    lines: dict[str, int]

    def error(self, key: str, what: str, instead: str) -> ConfigError:
        """The refusal of what stands at `key`, by somebody who knows more than this file does."""
        return ConfigError(self.file, self.lines.get(key), what, instead, key)
