"""Tables of a settings text, each key checked by its rule. Pure; knows neither rigs nor plans.

Every refusal names file, line, what is wrong and what to write instead.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import Any

from server.config import ConfigError
from server.settings.key_lines import key_lines
from server.settings.plain import escaped, unprintable
from server.settings.rules import Number, Rules, short, shown, wrong
from server.settings.toml_text import toml_tables

TEXT_MAX = 64_000  # bytes of one settings file: a hundred times what anybody writes
_BARE = re.compile(r"[A-Za-z0-9_-]+")

Values = dict[str, str | float]


@dataclass(frozen=True, slots=True)
class Source:
    """A text that was read: its file, the line of every key, and which keys stand in which table (`homes`)."""

    file: str
    lines: dict[str, int]
    tables: dict[str, Any]
    homes: Mapping[str, Rules] = field(default_factory=dict)

    def error(self, path: str, what: str, instead: str) -> ConfigError:
        """The refusal of a key or a table."""
        line = self.lines.get(path, self.lines.get(path.rpartition(".")[0], self.lines.get(path.partition(".")[0])))
        return ConfigError(self.file, line, what, instead, path)

    def known(self, table: dict[str, Any], keys: tuple[str, ...], place: str) -> None:
        """Raises ConfigError for a key that is none of these."""
        for key in table:
            if key in keys:
                continue
            path = f"{place}.{key}" if place else key
            inside = f" of [{place}]" if place else ""
            near = get_close_matches(key, keys, n=1, cutoff=0.5)
            home = next((name for name, its in self.homes.items() if key in its and name != place), "")
            known = f"write {near[0]}" if near else f"known are {', '.join(keys)}"
            what = f'"{short(key)}" is not a key{inside}'
            line = self.lines.get(path, self.lines.get(place))
            raise ConfigError(self.file, line, what, f"move it below [{home}]" if home else known, path)

    def values(self, table: Any, keys: Rules, place: str, *also: str) -> dict[str, Any]:
        """The checked values of a table; numbers become float where a fraction is allowed."""
        self.is_table(table, place)
        self.known(table, (*keys, *also), place)
        values: dict[str, Any] = {}
        for key, value in table.items():
            rule, path = keys[key], f"{place}.{key}"
            complaint = wrong(value, rule)
            if complaint:
                line = self.lines.get(path, self.lines.get(place))
                what = f"{key} = {shown(value)}: {complaint[0]}"
                raise ConfigError(self.file, line, what, f"write {complaint[1]}", path)
            values[key] = float(value) if isinstance(rule, Number) and not rule.whole else value
        return values

    def each(self, table: Any, keys: Rules, place: str) -> list[tuple[str, dict[str, Any]]]:
        """The tables in a table, each with its checked values."""
        self.is_table(table, place)
        for name in table:
            if odd := unprintable(name):
                path, what = f"{place}.{name}", f'"{short(name)}": the character {odd} cannot be shown in a line'
                line = self.lines.get(f"{place}.{escaped(name)}", self.lines.get(place))  # as it is written, mostly
                raise ConfigError(self.file, line, what, "write plain text in one line", path)
        return [(name, self.values(its, keys, f"{place}.{name}")) for name, its in table.items()]

    def named(self, name: str, place: str) -> str:
        """This name; raises ConfigError for one that nobody sees."""
        if not name.strip():
            path = f"{place}.{escaped(name)}"
            what = f'"{name}" is no name'
            raise ConfigError(
                self.file, self.lines.get(path, self.lines.get(place)), what, "write one", f"{place}.{name}"
            )
        return name

    def ends(self, said: dict[str, Any], place: str) -> None:
        """Raises ConfigError for limits that are none, or that nothing can lie between."""
        low, high = said.get("low"), said.get("high")
        if low is None and high is None:
            line = self.lines.get(place)
            raise ConfigError(self.file, line, f"{place} has no limit", "write low, high or both below it", place)
        if low is not None and high is not None and low >= high:
            what = f"low = {low:g} is not below high = {high:g}"
            line = self.lines.get(f"{place}.low", self.lines.get(place))
            raise ConfigError(self.file, line, what, "write the smaller one as low", f"{place}.low")

    def is_table(self, table: Any, place: str) -> None:
        """Raises ConfigError for a value where a table is meant."""
        if not isinstance(table, dict):
            line = self.lines.get(place, self.lines.get(place.partition(".")[0]))
            raise ConfigError(self.file, line, f"{place} is a value", f"write [{place}] and its keys below it", place)


def read_tables(
    text: str, file: str, homes: Mapping[str, Rules] | None = None, such_as: str = 'port = "/dev/ttyACM0"'
) -> Source:
    """The tables of a text; `such_as`: a line as it should look. Raises ConfigError."""
    tables = toml_tables(text, file, TEXT_MAX, such_as)
    return Source(file, key_lines(text), tables, homes or {})


def key_line(key: str, value: str | float) -> str:
    """One line of a table."""
    return f"{key} = {toml(value)}"


def toml(value: str | float) -> str:
    """A value as TOML writes it."""
    if not isinstance(value, str):
        return repr(value)
    plain = value.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(f"\\u{ord(c):04x}" if ord(c) < 32 or ord(c) == 127 else c for c in plain) + '"'


def header_part(name: str) -> str:
    """A part of a table's header."""
    return name if _BARE.fullmatch(name) else toml(name)
