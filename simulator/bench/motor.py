"""A motor of the bench from its file: what its plate says, where the board's channels sit, which stories it plays.

The limits of a channel are those of a board one could build: 16-bit converters behind isolated dividers and
Hall-effect sensors (common practice, no published source).
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, replace
from fractions import Fraction
from itertools import count
from math import ceil
from pathlib import Path
from typing import Any

from firmware_protocol import ChannelDescription, InputDescription, InputKind, Role
from simulator.capture import LOOKED
from simulator.motors import MOTORS
from simulator.motors.motor import Model
from simulator.physics.control import initial
from simulator.plate import COUNTS, PLATE_KEYS
from simulator.stories import Entry, Story, read_document, read_stories, required, value_of

TICK_HZ = 1_000_000
RATE_HZ = 20_000
_CODE_MAX = 32_767
_KEYS = ("name", "says", "type", "parameters", "plate", "channels", "inputs", "at_rest", "stories")
_INPUT_KINDS = {"pulse": InputKind.PULSE, "hall": InputKind.HALL, "counter": InputKind.COUNTER}


@dataclass(frozen=True, slots=True)
class BenchMotor:
    """One motor of the bench: `type` names its model and is its type in the settings of a rig."""

    key: str
    name: str
    says: str
    type: str
    parameters: Any
    plate: Mapping[str, float]
    signals: tuple[str, ...]
    channels: tuple[ChannelDescription, ...]
    inputs: tuple[InputDescription, ...]
    own_at_rest: Mapping[str, float]  # what its file says of controls at rest
    stories: tuple[Story, ...]

    @property
    def model(self) -> Model:
        return MOTORS[self.type]

    @property
    def at_rest(self) -> dict[str, float]:
        """Every control as each story finds it."""
        return {**initial(self.model.controls), **self.model.usual(self.parameters), **self.own_at_rest}


def read_motor(file: Path) -> BenchMotor:
    """The motor of one file, its key the file's name. StoryError names file, line and what to write."""
    entry = read_document(file)
    table = entry.table(_KEYS)
    type_ = required(table, "type", entry).one_of(MOTORS)
    model = MOTORS[type_]
    parameters = _parameters(required(table, "parameters", entry), model)
    signals, channels = _channels(required(table, "channels", entry), model)
    at_rest = _at_rest(table.get("at_rest"), model)
    motor = BenchMotor(
        file.stem,
        required(table, "name", entry).text(),
        required(table, "says", entry).text(),
        type_,
        parameters,
        _plate(required(table, "plate", entry)),
        signals,
        channels,
        tuple(_inputs(table["inputs"], at_rest.get(LOOKED, 0.0))) if "inputs" in table else (),
        at_rest,
        (),
    )
    return replace(motor, stories=read_stories(required(table, "stories", entry), model.controls, motor.at_rest))


def with_stories(motor: BenchMotor, file: Path) -> BenchMotor:
    """The motor with the stories, and if it has one the plate, the parameters, of a person's file. StoryError."""
    entry = read_document(file)
    table = entry.table(("plate", "parameters", "stories"))
    model = motor.model
    if "plate" in table:
        motor = replace(motor, plate={**motor.plate, **_plate(table["plate"])})
    if "parameters" in table:
        motor = replace(motor, parameters=_changed(motor.parameters, table["parameters"]))
    stories = read_stories(required(table, "stories", entry), model.controls, motor.at_rest)
    return replace(motor, stories=stories)


def _parameters(entry: Entry, model: Model) -> Any:
    return model.parameter_sets[entry.one_of(model.parameter_sets)]


def _changed(parameters: Any, entry: Entry) -> Any:
    """Numbers of a set replaced by name; none below zero but angles, and whole ones stay whole."""
    numbers = {field.name: getattr(parameters, field.name) for field in fields(parameters)}
    numbers = {name: value for name, value in numbers.items() if isinstance(value, int | float)}
    changes: dict[str, float | int] = {}
    for name, value in entry.table(numbers).items():
        whole = isinstance(numbers[name], int)
        low = float("-inf") if name.endswith(("_deg", "_rad")) else 0.0
        changes[name] = value.whole(0, 10_000) if whole else value.number(low)
        if numbers[name] and not changes[name] and name.endswith(("_kg_m2", "_h", "_ohm", "pole_pairs")):
            raise value.fail(f"{name} must be above 0")
    try:
        return replace(parameters, **changes)
    except ValueError as impossible:
        raise entry.fail(str(impossible)) from None


def _plate(entry: Entry) -> dict[str, float]:
    """A plate's figures, all above 0."""
    plate: dict[str, float] = {}
    for key, value in entry.table(PLATE_KEYS).items():
        plate[key] = value.whole(1, 1000) if key in COUNTS else value.number(1e-6, 1e6)
    return plate


def _at_rest(entry: Entry | None, model: Model) -> dict[str, float]:
    known = {control.name: control for control in model.controls}
    values = {} if entry is None else entry.table(known)
    return {name: value_of(value, known[name]) for name, value in values.items()}


def _channels(entry: Entry, model: Model) -> tuple[tuple[str, ...], tuple[ChannelDescription, ...]]:
    signals, channels = [], []
    for index, each in enumerate(entry.items()):
        table = each.table(("signal", "name", "place", "low", "high"))
        signal = required(table, "signal", each).one_of(model.signals)
        low, high = (required(table, key, each).number() for key in ("low", "high"))
        if high <= low:
            raise table["high"].fail(f"{high:g} is not above {low:g}")
        name, place = (required(table, key, each).text() for key in ("name", "place"))
        signals.append(signal)
        channels.append(_channel(index, signal.endswith("_v"), name, place, low, high))
    return tuple(signals), tuple(channels)


def _channel(index: int, voltage: bool, name: str, place: str, low: float, high: float) -> ChannelDescription:
    return ChannelDescription(
        index,
        Role.VOLTAGE if voltage else Role.CURRENT,
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


def _inputs(entry: Entry, looked_us: float) -> Iterator[InputDescription]:
    """Each is a line of the model, in their order; a counter counts the pulses of the first one.

    A board that only looks at its inputs all the time says so; one that does it in a story alone has a fault.
    """
    lines, look_ticks = count(), ceil(1e-6 * looked_us * TICK_HZ) or None
    for index, each in enumerate(entry.items()):
        table = each.table(("name", "kind", "pulses_per_turn"))
        kind = _INPUT_KINDS[required(table, "kind", each).one_of(_INPUT_KINDS)]
        pulses = table["pulses_per_turn"].whole(1, 10_000) if "pulses_per_turn" in table else None
        bit = 0 if kind is InputKind.COUNTER else next(lines)
        name = required(table, "name", each).text()
        yield InputDescription(
            index, kind, name, bit, pulses, delay_ns=1_000, delay_limit_ns=500, look_ticks=look_ticks
        )
