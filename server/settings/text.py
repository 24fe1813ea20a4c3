"""TOML text <-> settings of a rig. Pure; knows no motor and opens no file.

Every refusal names file, line, what is wrong and what to write instead.
"""

import re
from dataclasses import replace
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
    Space,
    Wires,
)
from server.settings.rules import ALARM, CALLING, CHANNEL, LIMIT, MOTOR, PLATE, RIG, SPACE, WIRES, Rules
from server.settings.tables import Source, Values, header_part, key_line, read_tables

NAME = re.compile(
    r"[a-z0-9][a-z0-9_-]{0,39}", re.IGNORECASE | re.ASCII
)  # it names files, so nothing else is allowed in it
_TABLES = {"rig": RIG, "motor.plate": PLATE, "calling": CALLING, "wires": WIRES, "space": SPACE}


def parse_rig(text: str, file: str, name: str) -> RigText:
    """Settings of the rig `name` from the text of its file. Raises ConfigError."""
    source = read_tables(text, file, _TABLES)
    lines, tables = source.lines, source.tables
    source.known(tables, ("rig", "motor", "channels", "limits", "alarms", "calling", "wires", "space"), "")
    rig = source.values(tables.get("rig", {}), RIG, "rig")
    if rig.setdefault("name", name) != name:
        instead = f'write name = "{name}" or name the file {rig["name"]}.toml'
        what = f'the rig is called "{rig["name"]}" in a file named for "{name}"'
        raise ConfigError(file, lines.get("rig.name"), what, instead, "rig.name")
    motor = _motor(tables["motor"], source) if "motor" in tables else None
    channels = tuple(
        ChannelSettings(channel, **said)
        for channel, said in source.each(tables.get("channels", {}), CHANNEL, "channels")
        if any(said.values())
    )
    limits = tuple(
        _limit(reading, said, source) for reading, said in source.each(tables.get("limits", {}), LIMIT, "limits")
    )
    wires = Wires(**source.values(tables.get("wires", {}), WIRES, "wires"))
    alarms = tuple(
        AlarmSettings(source.named(alarm, "alarms"), **said)
        for alarm, said in source.each(tables.get("alarms", {}), ALARM, "alarms")
    )
    calling = Calling(**source.values(tables.get("calling", {}), CALLING, "calling"))
    space = Space(**source.values(tables.get("space", {}), SPACE, "space"))
    settings = RigSettings(motor=motor, channels=channels, limits=limits, wires=wires, **rig)
    return RigText(file, replace(settings, alarms=alarms, calling=calling, space=space), lines)


def parse_motor(text: str, file: str) -> MotorSettings:
    """The motor that a board says it watches: the text holds [motor] and [motor.plate] only. Raises ConfigError."""
    source = read_tables(text, file, _TABLES)
    source.known(source.tables, ("motor",), "")
    return _motor(source.tables.get("motor", {}), source)


def rig_text(settings: RigSettings) -> str:
    """The text of a settings file; `parse_rig` reads the same settings back."""
    blocks = ("\n".join([f"[{header}]", *map(key_line, its, its.values())]) for header, its in tables_of(settings))
    return "\n\n".join(blocks) + "\n"


def tables_of(settings: RigSettings) -> list[tuple[str, Values]]:
    """The tables of a settings file by their headers, in the order in which they are written."""
    tables = [("rig", _said(settings, RIG))]
    if settings.motor:
        tables += [("motor", _said(settings.motor, MOTOR)), ("motor.plate", _said(settings.motor.plate, PLATE))]
    tables += [(f"channels.{header_part(each.channel)}", _said(each, CHANNEL, "")) for each in settings.channels]
    tables += [(f"limits.{header_part(each.reading)}", _said(each, LIMIT)) for each in settings.limits]
    if wires := _said(settings.wires, WIRES, ""):
        tables.append(("wires", wires))
    tables += [(f"alarms.{header_part(each.name)}", _said(each, ALARM, "")) for each in settings.alarms]
    if calling := _said(settings.calling, CALLING, ""):
        tables.append(("calling", calling))
    if settings.space != Space():
        tables.append(("space", _said(settings.space, SPACE, "")))
    return tables


def check_name(name: str) -> None:
    """Raises ConfigError if a rig cannot be called so."""
    if not NAME.fullmatch(name):
        raise ConfigError(
            "",
            None,
            f"a rig cannot be called {name!r}",
            "use a to z and digits, then - and _ too, 40 at most",
            "rig.name",
        )


def _said(record: object, keys: Rules, nothing: str | None = None) -> Values:
    values = ((key, getattr(record, key)) for key in keys)
    return {key: value for key, value in values if value not in (None, nothing)}


def _motor(table: Any, source: Source) -> MotorSettings:
    source.is_table(table, "motor")
    plate = source.values(table.get("plate", {}), PLATE, "motor.plate")
    values = source.values({key: value for key, value in table.items() if key != "plate"}, MOTOR, "motor", "plate")
    return MotorSettings(plate=Plate(**plate), **values)


def _limit(reading: str, said: dict[str, Any], source: Source) -> Limit:
    source.ends(said, f"limits.{reading}")
    return Limit(reading, **said)
