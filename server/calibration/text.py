"""TOML text <-> the calibration of a board. Pure; opens no file.

A person may read the file and correct it. Every refusal names file, line, what is wrong and what to write instead.
"""

import re
from dataclasses import dataclass
from datetime import UTC, datetime
from difflib import get_close_matches
from math import inf, isfinite
from typing import Any

from server.calibration.entry import AGE_LIMIT_DAYS, BoardCalibration, Entry, Stated, What
from server.config import ConfigError
from server.settings.key_lines import key_lines
from server.settings.toml_text import toml_tables

TEXT_MAX = 1_000_000  # bytes: some thousand entries
ENTRY = "[[entry]]"
_HEADER = re.compile(r"\s*\[\[\s*entry\s*\]\]\s*(?:#.*)?$")
_SHOWN_MAX = 40
_NUMBER_MAX = 1e300
_BOARD = ("serial", "age_limit_days")
_TEXTS = ("what", "name", "place", "unit", "reference", "against")
_NUMBERS = ("scale", "offset", "delay_ns", "value", "standard", "dof", "frequency_hz")
_TIMES = ("made", "undone")
_MUST = ("what", "name", "place", "unit", "scale", "offset", "delay_ns", "made", "reference", "value", "standard")
_EXAMPLES = {
    "reference": '"bench meter 34"',
    "dof": "14.0, or inf",
    "scale": "0.0125",
    "delay_ns": "5300",
    "frequency_hz": "50.0",
}


def calibration_text(calibration: BoardCalibration) -> str:
    """The text of a file; `parse_calibration` reads the same calibration back."""
    out = ["# What this board's channels were found to be off by; of each channel and kind the newest entry holds."]
    out += ["[board]", f"serial = {_quoted(calibration.serial)}"]
    out.append(f"age_limit_days = {calibration.age_limit_days!r}")
    for entry in calibration.entries:
        out += ["", *entry_lines(entry)]
    return "\n".join(out) + "\n"


def entry_lines(entry: Entry) -> list[str]:
    """An entry as it stands in a file."""
    return [ENTRY, *(f"{key} = {value}" for key, value in _keys(entry))]


def _keys(entry: Entry) -> list[tuple[str, str]]:
    its = entry.channel
    keys = [("what", _quoted(entry.what)), ("name", _quoted(its.name)), ("place", _quoted(its.place))]
    keys += [("unit", _quoted(its.unit)), ("scale", repr(its.scale)), ("offset", repr(its.offset))]
    keys += [("delay_ns", repr(its.delay_ns)), ("made", moment(entry.made)), ("reference", _quoted(entry.reference))]
    keys += [("value", repr(entry.value)), ("standard", repr(entry.standard)), ("dof", repr(entry.dof))]
    if entry.frequency_hz is not None:
        keys.append(("frequency_hz", repr(entry.frequency_hz)))
    if entry.against:
        keys.append(("against", _quoted(entry.against)))
    if entry.undone is not None:
        keys.append(("undone", moment(entry.undone)))
    return keys


def entry_places(source: str) -> list[int]:
    """The line above which the keys of each entry stand, counted from 0; on an unusual text a guess."""
    return [number for number, line in enumerate(source.split("\n")) if _HEADER.match(line)]


def moment(when: datetime) -> str:
    """As it stands in a file."""
    return when.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def _quoted(value: str) -> str:
    plain = value.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(f"\\u{ord(c):04x}" if ord(c) < 32 or ord(c) == 127 else c for c in plain) + '"'


def parse_calibration(text: str, file: str) -> BoardCalibration:
    """The calibration in the text of a file. Raises ConfigError."""
    places = _Places(text, file)
    tables = places.tables()
    places.known(tables, ("board", "entry"), None)
    board, entries = tables.get("board"), tables.get("entry", [])
    if not isinstance(board, dict):
        raise ConfigError(file, None, "[board] is missing", 'write [board] and below it serial = "..."')
    if not isinstance(entries, list):
        raise places.error("entry", None, "entry is no list", "write [[entry]] above each one")
    places.known(board, _BOARD, None)
    serial = board.get("serial")
    if not isinstance(serial, str) or not serial:
        what = "serial is missing" if serial is None else f"serial = {_shown(serial)}: this is no board's number"
        raise places.error("board.serial", None, what, 'write serial = "..." as the board says it')
    limit = places.number(board, "age_limit_days", None, AGE_LIMIT_DAYS)
    if not 1.0 <= limit <= 36_525.0:
        what = f"age_limit_days = {limit:g}: this is not possible"
        raise places.error("board.age_limit_days", None, what, "write a number from 1 to 36525, such as 365")
    return BoardCalibration(serial, tuple(_entry(each, k, places) for k, each in enumerate(entries)), limit)


def _entry(table: Any, k: int, places: "_Places") -> Entry:
    if not isinstance(table, dict):
        raise places.error(None, k, "an entry is a value", "write [[entry]] and its keys below it")
    places.known(table, (*_TEXTS, *_NUMBERS, *_TIMES), k)
    for key in _MUST:
        if key not in table:
            raise places.error(None, k, f"{key} is missing in this entry", f"write {key} = ... or take the entry out")
    texts = {key: places.text(table, key, k) for key in _TEXTS if key in table}
    if texts["what"] not in list(What):
        what = f"what = {_shown(texts['what'])}: there is no such calibration"
        raise places.error("what", k, what, "write zero, gain or angle")
    value, standard = places.number(table, "value", k), places.number(table, "standard", k)
    dof, scale = places.number(table, "dof", k, inf), places.number(table, "scale", k)
    delay_ns = places.number(table, "delay_ns", k)
    impossible = {
        "value": texts["what"] == What.GAIN and not 0.1 <= value <= 10.0,
        "standard": not 0.0 <= standard < inf,
        "dof": not dof >= 1.0,
        "delay_ns": delay_ns != int(delay_ns) if isfinite(delay_ns) else True,
        "scale": not isfinite(scale) or scale == 0.0,
    }
    for key, wrong in impossible.items():
        if wrong:
            what = f"{key} = {_shown(table[key])}: this is not possible"
            raise places.error(
                key, k, what, f"write what was there, such as {_EXAMPLES.get(key, '1.0')}; or take the entry out"
            )
    hertz = places.number(table, "frequency_hz", k) if "frequency_hz" in table else None
    channel = Stated(
        *(texts["name"], texts["place"], texts["unit"], scale, places.number(table, "offset", k), int(delay_ns))
    )
    made, undone = places.time(table, "made", k), places.time(table, "undone", k) if "undone" in table else None
    what_, against = What(texts["what"]), texts.get("against", "")
    return Entry(what_, channel, made, texts["reference"], value, standard, dof, hertz, against, undone)


@dataclass(frozen=True, slots=True)
class _Places:
    """Where what stands, for the refusals."""

    source: str
    file: str

    def tables(self) -> dict[str, Any]:
        return toml_tables(self.source, self.file, TEXT_MAX, 'value = 1.002, texts in "quotes"')

    def line(self, key: str | int | None, entry: int | None) -> int | None:
        """Of a key of the file (`board.serial`), or of the entry of that number (None: its header)."""
        lines = self.source.split("\n")
        if entry is None:
            return key_lines(self.source).get(str(key)) or key_lines(self.source).get("board")
        starts = entry_places(self.source)
        if entry >= len(starts):
            return None
        end = next(
            (number for number, line in enumerate(lines) if number > starts[entry] and line.lstrip()[:1] == "["), None
        )
        inside = key_lines("\n".join(lines[starts[entry] + 1 : end]))
        return starts[entry] + 1 + inside.get(str(key), 0)

    def error(self, key: str | int | None, entry: int | None, what: str, instead: str) -> ConfigError:
        return ConfigError(self.file, self.line(key, entry), what, instead)

    def known(self, table: dict[str, Any], keys: tuple[str, ...], entry: int | None) -> None:
        for key in table:
            if key not in keys:
                near = get_close_matches(key, keys, n=1, cutoff=0.5)
                instead = f"write {near[0]}" if near else f"known are {', '.join(keys)}"
                path = key if entry is not None or keys[0] == "board" else f"board.{key}"
                raise self.error(path, entry, f'"{key[:_SHOWN_MAX]}" is not a key', instead)

    def text(self, table: dict[str, Any], key: str, entry: int) -> str:
        if not isinstance(table[key], str):
            what = f"{key} = {_shown(table[key])}: this is not text"
            raise self.error(key, entry, what, f"write it in quotes, such as {_EXAMPLES.get(key, chr(34) * 2)}")
        return str(table[key])

    def number(self, table: dict[str, Any], key: str, entry: int | None, default: float | None = None) -> float:
        value = table.get(key, default)
        endless = key == "dof" and value == inf
        if isinstance(value, bool) or not isinstance(value, int | float) or not (abs(value) <= _NUMBER_MAX or endless):
            what = f"{key} = {_shown(value)}: this is not a number"
            where = key if entry is not None else f"board.{key}"
            raise self.error(where, entry, what, f"write a number without quotes, such as {_EXAMPLES.get(key, '1.0')}")
        return float(value)

    def time(self, table: dict[str, Any], key: str, entry: int) -> datetime:
        value = table[key]
        if not isinstance(value, datetime) or value.tzinfo is None:
            what = f"{key} = {_shown(value)}: this is not a moment in UTC"
            raise self.error(key, entry, what, "write it as 2026-11-20T14:03:05Z")
        return value.astimezone(UTC)


def _shown(value: Any) -> str:
    if isinstance(value, dict | list):
        return "{...}" if isinstance(value, dict) else "[...]"
    text = f'"{value}"' if isinstance(value, str) else str(value).lower() if isinstance(value, bool) else str(value)
    return text if len(text) <= _SHOWN_MAX else text[: _SHOWN_MAX - 3] + "..."
