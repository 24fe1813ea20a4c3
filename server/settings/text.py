"""TOML text <-> settings of a rig. Pure; knows no motor and opens no file.

Every refusal names file, line, what is wrong and what to write instead.
"""

import re
import tomllib
from dataclasses import dataclass, fields
from difflib import get_close_matches
from typing import Any

from server.config import ConfigError, MotorSettings, Plate, RigSettings, RigText
from server.settings.key_lines import key_lines

NAME = re.compile(r"[a-z0-9][a-z0-9_-]{0,39}", re.IGNORECASE)  # it names files, so nothing else is allowed in it
TEXT_MAX = 64_000  # bytes of one settings file: a hundred times what anybody writes
_DOTS_MAX = 200  # in one line: the parser takes a minute for a key of 30 000 parts
_SHOWN_MAX = 40  # characters of a value or key in a refusal


@dataclass(frozen=True, slots=True)
class _Number:
    """What a number may be. `whole`: no fraction; `choices` instead of ends where only some values exist."""

    low: float
    high: float
    example: str
    whole: bool = False
    choices: tuple[int, ...] = ()


_TEXT = ""
_RIG: dict[str, _Number | str] = {
    "name": _TEXT,
    "port": _TEXT,
    "baud": _Number(300, 50_000_000, "2000000", whole=True),
    "stopped_rpm": _Number(0.01, 10_000, "5.0"),
    "start_time_limit_s": _Number(0.01, 3600, "5.0"),
    "rest_closes_run_s": _Number(10, 864_000, "600"),
}
_MOTOR: dict[str, _Number | str] = {"name": _TEXT, "type": _TEXT}
_PLATE: dict[str, _Number | str] = {
    "voltage_v": _Number(0.1, 100_000, "230"),
    "frequency_hz": _Number(0.1, 10_000, "50"),
    "current_a": _Number(0.001, 100_000, "0.55"),
    "speed_rpm": _Number(0.1, 1_000_000, "1380"),
    "pole_pairs": _Number(1, 200, "2", whole=True),
    "power_w": _Number(0.001, 1e9, "60"),
    "run_capacitor_uf": _Number(0.001, 1e6, "4"),
    "locked_rotor_current_a": _Number(0.001, 1e6, "1.2"),
    "hall_spacing_deg": _Number(60, 120, "120", whole=True, choices=(60, 120)),
}
_TABLES = {"rig": _RIG, "motor.plate": _PLATE}
assert list(_PLATE) == [field.name for field in fields(Plate)]


def parse_rig(text: str, file: str, name: str) -> RigText:
    """Settings of the rig `name` from the text of its file. Raises ConfigError."""
    lines, tables = _read(text, file)
    _known(tables, {"rig": {}, "motor": {}}, "", file, lines)
    rig = _values(tables.get("rig", {}), _RIG, "rig", file, lines)
    if rig.setdefault("name", name) != name:
        instead = f'write name = "{name}" or name the file {rig["name"]}.toml'
        raise ConfigError(
            file, lines.get("rig.name"), f'the rig is called "{rig["name"]}" in a file named for "{name}"', instead
        )
    motor = _motor(tables["motor"], file, lines) if "motor" in tables else None
    return RigText(file, RigSettings(motor=motor, **rig), lines)


def parse_motor(text: str, file: str) -> MotorSettings:
    """The motor that a board says it watches: the text holds [motor] and [motor.plate] only. Raises ConfigError."""
    lines, tables = _read(text, file)
    _known(tables, {"motor": {}}, "", file, lines)
    return _motor(tables.get("motor", {}), file, lines)


def rig_text(settings: RigSettings) -> str:
    """The text of a settings file; `parse_rig` reads the same settings back."""
    out = ["[rig]", *_lines(settings, _RIG)]
    if settings.motor:
        out += ["", "[motor]", *_lines(settings.motor, _MOTOR)]
        out += ["", "[motor.plate]", *_lines(settings.motor.plate, _PLATE)]
    return "\n".join(out) + "\n"


def check_name(name: str) -> None:
    """Raises ConfigError if a rig cannot be called so."""
    if not NAME.fullmatch(name):
        raise ConfigError(
            "", None, f"a rig cannot be called {name!r}", "use letters, digits, - and _, at most 40 of them"
        )


def _lines(record: object, keys: dict[str, _Number | str]) -> list[str]:
    values = ((key, getattr(record, key)) for key in keys)
    return [f"{key} = {_toml(value)}" for key, value in values if value is not None]


def _toml(value: str | float) -> str:
    if not isinstance(value, str):
        return repr(value)
    plain = value.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(f"\\u{ord(c):04x}" if ord(c) < 32 or ord(c) == 127 else c for c in plain) + '"'


def _read(text: str, file: str) -> tuple[dict[str, int], dict[str, Any]]:
    if len(text) > TEXT_MAX:
        raise ConfigError(file, None, f"{len(text)} characters are too many", f"keep it under {TEXT_MAX}")
    for number, written in enumerate(text.split("\n"), 1):
        if (dots := written.count(".")) > _DOTS_MAX:
            raise ConfigError(file, number, f"{dots} dots in one line are too many", "leave them out")
    try:
        tables = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        place = re.search(r"^(.*) \(at (?:line (\d+), column \d+|end of document)\)$", str(error), re.DOTALL)
        line = int(place[2]) if place and place[2] else text.count("\n") + 1
        what = place[1] if place else str(error)
        raise ConfigError(
            file, line, f"this is not TOML ({what})", 'write lines such as port = "/dev/ttyACM0"'
        ) from None
    except (RecursionError, ValueError):  # brackets in brackets, or a number of thousands of digits
        raise ConfigError(
            file, None, "values in it are nested too deeply or too long", "write plain text and numbers"
        ) from None
    return key_lines(text), tables


def _motor(table: Any, file: str, lines: dict[str, int]) -> MotorSettings:
    if not isinstance(table, dict):
        raise ConfigError(file, lines.get("motor"), "motor is a value", "write [motor] and its keys below it")
    plate = _values(table.get("plate", {}), _PLATE, "motor.plate", file, lines)
    values = _values(
        {key: value for key, value in table.items() if key != "plate"}, _MOTOR, "motor", file, lines, "plate"
    )
    return MotorSettings(plate=Plate(**plate), **values)


def _values(
    table: Any, keys: dict[str, _Number | str], place: str, file: str, lines: dict[str, int], *also: str
) -> dict[str, Any]:
    """The checked values of a table; numbers become float where a fraction is allowed."""
    if not isinstance(table, dict):
        raise ConfigError(file, lines.get(place), f"{place} is a value", f"write [{place}] and its keys below it")
    _known(table, {**keys, **dict.fromkeys(also, _TEXT)}, place, file, lines)
    values: dict[str, Any] = {}
    for key, value in table.items():
        wrong = _wrong(value, keys[key])
        if wrong:
            line = lines.get(f"{place}.{key}", lines.get(place))
            raise ConfigError(file, line, f"{key} = {_shown(value)}: {wrong[0]}", f"write {wrong[1]}")
        rule = keys[key]
        values[key] = float(value) if isinstance(rule, _Number) and not rule.whole else value
    return values


def _known(table: dict[str, Any], keys: dict[str, Any], place: str, file: str, lines: dict[str, int]) -> None:
    for key in table:
        if key in keys:
            continue
        path = f"{place}.{key}" if place else key
        inside = f" of [{place}]" if place else ""
        shown = key if len(key) <= _SHOWN_MAX else f"{key[: _SHOWN_MAX - 3]}..."
        near = get_close_matches(key, keys, n=1, cutoff=0.5)
        home = next((name for name, its in _TABLES.items() if key in its), "")
        instead = f"move it below [{home}]" if home else f"write {near[0]}" if near else f"known are {', '.join(keys)}"
        raise ConfigError(file, lines.get(path, lines.get(place)), f'"{shown}" is not a key{inside}', instead)


def _wrong(value: Any, rule: _Number | str) -> tuple[str, str] | None:
    """What is wrong with a value, and what to write; None if nothing is."""
    if isinstance(rule, str):
        return None if isinstance(value, str) else ("this is not text", f'it in quotes: "{_shown(value)}"')
    kind = "a whole number" if rule.whole else "a number"
    if isinstance(value, bool) or not isinstance(value, int if rule.whole else (int, float)):
        return f"this is not {kind}", f"{kind} without quotes or unit, such as {rule.example}"
    if rule.choices and value not in rule.choices:
        return "there is no such value", " or ".join(str(choice) for choice in rule.choices)
    if not rule.low <= value <= rule.high:  # false for NaN too
        return "this is not possible", f"{kind} from {rule.low:.10g} to {rule.high:.10g}, such as {rule.example}"
    return None


def _shown(value: Any) -> str:
    if isinstance(value, dict | list):  # of any depth
        return "{...}" if isinstance(value, dict) else "[...]"
    try:
        text = f'"{value}"' if isinstance(value, str) else str(value).lower() if isinstance(value, bool) else str(value)
    except ValueError:  # Python writes out no decimal number of such a length
        text = hex(value)
    return text if len(text) <= _SHOWN_MAX else text[: _SHOWN_MAX - 3] + "..."
