"""TOML text <-> settings of a rig. Pure; knows no motor and opens no file.

Every refusal names file, line, what is wrong and what to write instead.
"""

import re
import tomllib
from dataclasses import replace
from difflib import get_close_matches
from typing import Any

from server.config import (
    AlarmSettings,
    Calling,
    ChannelSettings,
    ConfigError,
    Limit,
    MotorSettings,
    Plate,
    RigSettings,
    RigText,
    Wires,
)
from server.settings.key_lines import key_lines
from server.settings.plain import escaped, unprintable
from server.settings.rules import (
    ALARM,
    CALLING,
    CHANNEL,
    LIMIT,
    MOTOR,
    PLATE,
    RIG,
    WIRES,
    Number,
    Rules,
    short,
    shown,
    wrong,
)

NAME = re.compile(
    r"[a-z0-9][a-z0-9_-]{0,39}", re.IGNORECASE | re.ASCII
)  # it names files, so nothing else is allowed in it
TEXT_MAX = 64_000  # bytes of one settings file: a hundred times what anybody writes
_DOTS_MAX = 200  # in one line: the parser takes a minute for a key of 30 000 parts
_TABLES = {"rig": RIG, "motor.plate": PLATE, "calling": CALLING, "wires": WIRES}
_BARE = re.compile(r"[A-Za-z0-9_-]+")

Values = dict[str, str | float]


def parse_rig(text: str, file: str, name: str) -> RigText:
    """Settings of the rig `name` from the text of its file. Raises ConfigError."""
    lines, tables = _read(text, file)
    _known(tables, ("rig", "motor", "channels", "limits", "alarms", "calling", "wires"), "", file, lines)
    rig = _values(tables.get("rig", {}), RIG, "rig", file, lines)
    if rig.setdefault("name", name) != name:
        instead = f'write name = "{name}" or name the file {rig["name"]}.toml'
        what = f'the rig is called "{rig["name"]}" in a file named for "{name}"'
        raise ConfigError(file, lines.get("rig.name"), what, instead, "rig.name")
    motor = _motor(tables["motor"], file, lines) if "motor" in tables else None
    channels = tuple(
        ChannelSettings(channel, **said)
        for channel, said in _each(tables.get("channels", {}), CHANNEL, "channels", file, lines)
        if any(said.values())
    )
    limits = tuple(
        _limit(reading, said, file, lines)
        for reading, said in _each(tables.get("limits", {}), LIMIT, "limits", file, lines)
    )
    wires = Wires(**_values(tables.get("wires", {}), WIRES, "wires", file, lines))
    alarms = tuple(
        AlarmSettings(alarm, **said) for alarm, said in _each(tables.get("alarms", {}), ALARM, "alarms", file, lines)
    )
    calling = Calling(**_values(tables.get("calling", {}), CALLING, "calling", file, lines))
    settings = RigSettings(motor=motor, channels=channels, limits=limits, wires=wires, **rig)
    return RigText(file, replace(settings, alarms=alarms, calling=calling), lines)


def parse_motor(text: str, file: str) -> MotorSettings:
    """The motor that a board says it watches: the text holds [motor] and [motor.plate] only. Raises ConfigError."""
    lines, tables = _read(text, file)
    _known(tables, ("motor",), "", file, lines)
    return _motor(tables.get("motor", {}), file, lines)


def rig_text(settings: RigSettings) -> str:
    """The text of a settings file; `parse_rig` reads the same settings back."""
    blocks = ("\n".join([f"[{header}]", *map(key_line, its, its.values())]) for header, its in tables_of(settings))
    return "\n\n".join(blocks) + "\n"


def tables_of(settings: RigSettings) -> list[tuple[str, Values]]:
    """The tables of a settings file by their headers, in the order in which they are written."""
    tables = [("rig", _said(settings, RIG))]
    if settings.motor:
        tables += [("motor", _said(settings.motor, MOTOR)), ("motor.plate", _said(settings.motor.plate, PLATE))]
    tables += [(f"channels.{_part(each.channel)}", _said(each, CHANNEL, "")) for each in settings.channels]
    tables += [(f"limits.{_part(each.reading)}", _said(each, LIMIT)) for each in settings.limits]
    if wires := _said(settings.wires, WIRES, ""):
        tables.append(("wires", wires))
    tables += [(f"alarms.{_part(each.name)}", _said(each, ALARM, "")) for each in settings.alarms]
    if calling := _said(settings.calling, CALLING, ""):
        tables.append(("calling", calling))
    return tables


def key_line(key: str, value: str | float) -> str:
    """One line of a table."""
    return f"{key} = {toml(value)}"


def check_name(name: str) -> None:
    """Raises ConfigError if a rig cannot be called so."""
    if not NAME.fullmatch(name):
        raise ConfigError(
            "", None, f"a rig cannot be called {name!r}", "use letters, digits, - and _, at most 40 of them", "rig.name"
        )


def toml(value: str | float) -> str:
    """A value as TOML writes it."""
    if not isinstance(value, str):
        return repr(value)
    plain = value.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(f"\\u{ord(c):04x}" if ord(c) < 32 or ord(c) == 127 else c for c in plain) + '"'


def _part(name: str) -> str:
    """A part of a table's header."""
    return name if _BARE.fullmatch(name) else toml(name)


def _said(record: object, keys: Rules, nothing: str | None = None) -> Values:
    values = ((key, getattr(record, key)) for key in keys)
    return {key: value for key, value in values if value not in (None, nothing)}


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
    _is_table(table, "motor", file, lines)
    plate = _values(table.get("plate", {}), PLATE, "motor.plate", file, lines)
    values = _values(
        {key: value for key, value in table.items() if key != "plate"}, MOTOR, "motor", file, lines, "plate"
    )
    return MotorSettings(plate=Plate(**plate), **values)


def _each(table: Any, keys: Rules, place: str, file: str, lines: dict[str, int]) -> list[tuple[str, dict[str, Any]]]:
    """The tables in a table, each with its checked values."""
    _is_table(table, place, file, lines)
    for name in table:
        if odd := unprintable(name):
            path, what = f"{place}.{name}", f'"{short(name)}": the character {odd} cannot be shown in a line'
            line = lines.get(f"{place}.{escaped(name)}", lines.get(place))  # as it is written, mostly
            raise ConfigError(file, line, what, "write plain text in one line", path)
    return [(name, _values(its, keys, f"{place}.{name}", file, lines)) for name, its in table.items()]


def _limit(reading: str, said: dict[str, Any], file: str, lines: dict[str, int]) -> Limit:
    path = f"limits.{reading}"
    if not said:
        raise ConfigError(file, lines.get(path), f"{path} has no limit", "write low, high or both below it", path)
    limit = Limit(reading, **said)
    if limit.low is not None and limit.high is not None and limit.low >= limit.high:
        what = f"low = {limit.low:g} is not below high = {limit.high:g}"
        line = lines.get(f"{path}.low", lines.get(path))
        raise ConfigError(file, line, what, "write the smaller one as low", f"{path}.low")
    return limit


def _is_table(table: Any, place: str, file: str, lines: dict[str, int]) -> None:
    if not isinstance(table, dict):
        line = lines.get(place, lines.get(place.partition(".")[0]))
        raise ConfigError(file, line, f"{place} is a value", f"write [{place}] and its keys below it", place)


def _values(table: Any, keys: Rules, place: str, file: str, lines: dict[str, int], *also: str) -> dict[str, Any]:
    """The checked values of a table; numbers become float where a fraction is allowed."""
    _is_table(table, place, file, lines)
    _known(table, (*keys, *also), place, file, lines)
    values: dict[str, Any] = {}
    for key, value in table.items():
        rule, path = keys[key], f"{place}.{key}"
        complaint = wrong(value, rule)
        if complaint:
            line = lines.get(path, lines.get(place))
            raise ConfigError(file, line, f"{key} = {shown(value)}: {complaint[0]}", f"write {complaint[1]}", path)
        values[key] = float(value) if isinstance(rule, Number) and not rule.whole else value
    return values


def _known(table: dict[str, Any], keys: tuple[str, ...], place: str, file: str, lines: dict[str, int]) -> None:
    for key in table:
        if key in keys:
            continue
        path = f"{place}.{key}" if place else key
        inside = f" of [{place}]" if place else ""
        near = get_close_matches(key, keys, n=1, cutoff=0.5)
        home = next((name for name, its in _TABLES.items() if key in its and name != place), "")
        instead = f"move it below [{home}]" if home else f"write {near[0]}" if near else f"known are {', '.join(keys)}"
        what = f'"{short(key)}" is not a key{inside}'
        raise ConfigError(file, lines.get(path, lines.get(place)), what, instead, path)
