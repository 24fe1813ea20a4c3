"""The motors of the demo bench: what their plates say, where the board's channels sit, which stories they play.

The limits of a channel are those of a board one could build: 16-bit converters behind isolated dividers and
Hall-effect sensors (common practice, no published source). Ranges are wide enough for every story.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction

from firmware_protocol import ChannelDescription, InputDescription, InputKind, Role
from firmware_protocol import Source as SourceKind
from simulator.board import Board
from simulator.motor_source import MotorMaker, MotorSource, Terminals
from simulator.motors import MOTORS
from simulator.nearest import WrongNameError, instead
from simulator.plate import plate_text
from simulator.source import About
from simulator.stories import THRUSTER_STORIES, VENTILATOR_STORIES, Story

RATE_HZ = 20_000
TICK_HZ = 1_000_000
CLOCK_TOLERANCE_PPM = 50.0  # a plain crystal
_CODE_MAX = 32_767


@dataclass(frozen=True, slots=True)
class BenchMotor:
    """One motor of the bench: `type` names its model and is its type in the settings of a rig."""

    key: str
    name: str
    type: str
    plate: Mapping[str, float]
    signals: tuple[str, ...]
    channels: tuple[ChannelDescription, ...]
    inputs: tuple[InputDescription, ...]
    stories: tuple[Story, ...]


def _channel(role: Role, name: str, place: str, low: float, high: float) -> ChannelDescription:
    """One channel over the range `low` to `high`; its index is given when the list is complete."""
    voltage = role is Role.VOLTAGE
    return ChannelDescription(
        0,
        role,
        name,
        place,
        unit="V" if voltage else "A",
        scale=(high - low) / (2 * _CODE_MAX),
        offset=(high + low) / 2,
        code_low=-_CODE_MAX,
        code_high=_CODE_MAX,
        group=0,
        ticks_per_sample=Fraction(TICK_HZ, RATE_HZ),
        delay_ns=12_000 if voltage else 14_000,  # the filter's 10.6 us and what the isolation adds
        delay_limit_ns=1_000,
        noise_codes_rms=1.2 if voltage else 4.0,  # 14 effective bits; a Hall-effect sensor has two less
        gain_limit=0.002 if voltage else 0.005,
        offset_limit_codes=8.0 if voltage else 16.0,
        corner_high_hz=15_000.0,
    )


def _numbered(*channels: ChannelDescription) -> tuple[ChannelDescription, ...]:
    return tuple(replace(channel, index=index) for index, channel in enumerate(channels))


def _input(index: int, kind: InputKind, name: str, pulses_per_turn: int | None = None) -> InputDescription:
    return InputDescription(index, kind, name, index, pulses_per_turn, delay_ns=1_000, delay_limit_ns=500)


VENTILATOR = BenchMotor(
    "cabin_ventilator",
    "cabin ventilator",
    "permanent_split_capacitor",
    {
        "voltage_v": 230.0,
        "frequency_hz": 50.0,
        "current_a": 0.55,
        "speed_rpm": 1380.0,
        "pole_pairs": 2,
        "power_w": 65.0,
        "run_capacitor_uf": 4.0,
        "locked_rotor_current_a": 1.28,
    },
    ("supply_v", "capacitor_v", "line_a", "auxiliary_a"),
    _numbered(
        _channel(Role.VOLTAGE, "U supply", "supply", -400, 400),
        _channel(Role.VOLTAGE, "U capacitor", "capacitor", -600, 600),
        _channel(Role.CURRENT, "I line", "line", -5, 5),
        _channel(Role.CURRENT, "I auxiliary", "auxiliary", -2.5, 2.5),
    ),
    (_input(0, InputKind.PULSE, "shaft pulse", pulses_per_turn=1),),
    VENTILATOR_STORIES,
)

THRUSTER = BenchMotor(
    "tender_thruster",
    "tender thruster",
    "brushless",
    {"voltage_v": 36.0, "current_a": 13.7, "speed_rpm": 2500.0, "pole_pairs": 7, "power_w": 450.0},
    ("u_v", "v_v", "w_v", "dc_link_v", "u_a", "v_a", "dc_link_a"),
    _numbered(
        _channel(Role.VOLTAGE, "U phase U", "U", -5, 45),
        _channel(Role.VOLTAGE, "U phase V", "V", -5, 45),
        _channel(Role.VOLTAGE, "U phase W", "W", -5, 45),
        _channel(Role.VOLTAGE, "U DC link", "dc link", -5, 45),
        _channel(Role.CURRENT, "I phase U", "U", -60, 60),
        _channel(Role.CURRENT, "I phase V", "V", -60, 60),
        _channel(Role.CURRENT, "I DC link", "dc link", -60, 60),
    ),
    tuple(_input(k, InputKind.HALL, name) for k, name in enumerate(("Hall A", "Hall B", "Hall C"))),
    THRUSTER_STORIES,
)

BENCH = (VENTILATOR, THRUSTER)


def bench_motor(key: str) -> BenchMotor:
    """The motor of that key. WrongNameError says which there are."""
    by_key = {motor.key: motor for motor in BENCH}
    if key not in by_key:
        raise WrongNameError(f"there is no motor {key!r} on the bench; {instead(key, by_key)}")
    return by_key[key]


def story_of(motor: BenchMotor, name: str) -> Story:
    """The story of that name. WrongNameError says which there are."""
    by_name = {story.name: story for story in motor.stories}
    if name not in by_name:
        raise WrongNameError(f"the {motor.name} has no story {name!r}; {instead(name, by_name)}")
    return by_name[name]


def bench_board(
    key: str,
    seed: int = 0,
    *,
    story: str | None = None,
    serial: str = "HB-0001",
    boot: int = 1,
    make: MotorMaker | None = None,
) -> Board:
    """A board on a motor of the bench that plays all its stories in turn, or one of them over and over."""
    motor = bench_motor(key)
    about = About(
        SourceKind.DEMO,
        "software board",
        plate_text(motor.name, motor.type, motor.plate),
        TICK_HZ,
        CLOCK_TOLERANCE_PPM,
    )
    terminals = Terminals(motor.signals, motor.channels, motor.inputs, Fraction(TICK_HZ, RATE_HZ))
    stories = motor.stories if story is None else (story_of(motor, story),)
    return Board(MotorSource(about, terminals, make or MOTORS[motor.type], stories), seed, serial=serial, boot=boot)
