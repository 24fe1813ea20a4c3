"""Which keys a settings file may hold, what each may be, and in which words a value is refused. Pure."""

import re
from dataclasses import dataclass, fields
from typing import Any

from firmware_protocol import Role
from server.config import SPEED_UNITS, TRIP_CLASSES, AlarmSettings, Calling, Plate, Space, Wires
from server.settings.plain import escaped, unprintable

_SHOWN_MAX = 40  # characters of a value or key in a refusal
LIMIT_MAX = 1e12  # of a limit, in the unit of its reading


@dataclass(frozen=True, slots=True)
class Number:
    """What a number may be. `whole`: no fraction; `choices` instead of ends where only some values exist."""

    low: float
    high: float
    example: str
    whole: bool = False
    choices: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Text:
    """Any text, or one of the words; `longest`: at most so many characters, 0: as many as the file holds; `pattern`,
    with an `example`, where it has a shape."""

    words: tuple[str, ...] = ()
    longest: int = 0
    pattern: str = ""
    example: str = ""


Rules = dict[str, Number | Text]

RIG: Rules = {
    "name": Text(),
    "port": Text(),
    "baud": Number(300, 50_000_000, "2000000", whole=True),
    "stopped_rpm": Number(0.01, 10_000, "5.0"),
    "start_time_limit_s": Number(0.01, 3600, "5.0"),
    "rest_closes_run_s": Number(10, 864_000, "600"),
    "speed_unit": Text(SPEED_UNITS),
}
MOTOR: Rules = {"name": Text(), "type": Text()}
PLATE: Rules = {
    "voltage_v": Number(0.1, 100_000, "230"),
    "frequency_hz": Number(0.1, 10_000, "50"),
    "current_a": Number(0.001, 100_000, "0.55"),
    "speed_rpm": Number(0.1, 1_000_000, "1380"),
    "pole_pairs": Number(1, 200, "2", whole=True),
    "power_w": Number(0.001, 1e9, "60"),
    "run_capacitor_uf": Number(0.001, 1e6, "4"),
    "locked_rotor_current_a": Number(0.001, 1e6, "1.2"),
    "hall_spacing_deg": Number(60, 120, "120", whole=True, choices=(60, 120)),
    "rotor_slots": Number(1, 1000, "28", whole=True),
    "commutator_bars": Number(2, 1000, "24", whole=True),
    "winding_resistance_ohm": Number(1e-6, 1e6, "6.3"),
    "winding_resistance_c": Number(-50, 250, "20"),
    "back_emf_constant": Number(1e-6, 1000, "0.026"),
    "brush_drop_v": Number(0, 10, "1.6"),
}
CHANNEL: Rules = {"role": Text(tuple(role.name.lower() for role in Role)), "place": Text()}
LIMIT: Rules = {"low": Number(-LIMIT_MAX, LIMIT_MAX, "0.1"), "high": Number(-LIMIT_MAX, LIMIT_MAX, "3.0")}
WIRE_MAX = 40  # characters of what a wire is called: it stands in sentences
WIRES: Rules = {field.name: Text(longest=WIRE_MAX) for field in fields(Wires)}
ACT_MAX = 60  # characters of what to do first: it is read from two metres
ALARM: Rules = {
    "rank": Text(("alarm", "caution", "off")),
    "act": Text(longest=ACT_MAX),
    "reading": Text(),
    "low": LIMIT["low"],
    "high": LIMIT["high"],
    "return_gap": Number(0, LIMIT_MAX, "0.1"),
    "hold_s": Number(0, 86_400, "2.0"),
    "state": Text(("resting", "starting", "running", "stalled", "coasting")),
    "event": Text(),
    "verdict": Text(),
    "no_samples_s": Number(1, 86_400, "10.0"),
    "drift": Text(),
    "least_percent": Number(0.01, 1000, "1.0"),
    "trip_class": Text(TRIP_CLASSES),
}
_CLOCK = Text(pattern=r"([01]\d|2[0-3]):[0-5]\d", example='"22:00"')
CALLING: Rules = {"alarm": Text(), "caution": Text(), "quiet_from": _CLOCK, "quiet_to": _CLOCK}
SPACE: Rules = {
    "thin_raw": Text(("agreed",)),
    "around_s": Number(5, 3600, "30"),
    "each_hour_s": Number(5, 3600, "60"),
}
assert list(SPACE) == [field.name for field in fields(Space)]
assert ["name", *ALARM] == [field.name for field in fields(AlarmSettings)]
assert list(CALLING) == [field.name for field in fields(Calling)]
assert list(PLATE) == [field.name for field in fields(Plate)]


def wrong(value: Any, rule: Number | Text) -> tuple[str, str] | None:
    """What is wrong with a value, and what to write; None if nothing is."""
    if isinstance(rule, Text):
        if not isinstance(value, str):
            return "this is not text", f'it in quotes: "{shown(value)}"'
        if rule.words and value not in rule.words:
            return "there is no such value", " or ".join(f'"{word}"' for word in rule.words)
        if rule.longest and len(value) > rule.longest:
            return f"these are {len(value)} characters", f"at most {rule.longest}"
        if odd := unprintable(value):
            return f"the character {odd} cannot be shown in a line", "plain text in one line"
        if rule.pattern and not re.fullmatch(rule.pattern, value):
            return "it cannot be read", f"it as {rule.example}"
        return None
    kind = "a whole number" if rule.whole else "a number"
    if isinstance(value, bool) or not isinstance(value, int if rule.whole else (int, float)):
        return f"this is not {kind}", f"{kind} without quotes or unit, such as {rule.example}"
    if rule.choices and value not in rule.choices:
        return "there is no such value", " or ".join(str(choice) for choice in rule.choices)
    if not rule.low <= value <= rule.high:  # false for NaN too
        return "this is not possible", f"{kind} from {rule.low:.10g} to {rule.high:.10g}, such as {rule.example}"
    return None


def shown(value: Any) -> str:
    """A value in a refusal: short, whatever stands in the file."""
    if isinstance(value, dict | list):  # of any depth
        return "{...}" if isinstance(value, dict) else "[...]"
    try:
        text = f'"{value}"' if isinstance(value, str) else str(value).lower() if isinstance(value, bool) else str(value)
    except ValueError:  # Python writes out no decimal number of such a length
        text = hex(value)
    return short(text)


def short(text: str) -> str:
    """As much of it as a sentence holds, in one line."""
    text = escaped(text)
    return text if len(text) <= _SHOWN_MAX else text[: _SHOWN_MAX - 3] + "..."
