"""One table of a description: takes its values out by kind, and refuses what it does not know.

Every refusal says where it stands and what to write instead.
"""

from collections.abc import Mapping
from enum import IntEnum
from math import inf
from typing import Any, TypeVar

from simulator.nearest import nearest
from simulator.recording import RecordingError

_E = TypeVar("_E", bound=IntEnum)


class Table:
    """A TOML table that stands at `where` and may hold `known` keys. RecordingError on everything else."""

    def __init__(self, values: Any, where: str, known: tuple[str, ...]) -> None:
        if not isinstance(values, Mapping):
            raise RecordingError(f"{where}: must be a table of keys and values")
        for key in values:
            if key not in known:
                raise RecordingError(f"{where}: there is no key {key!r}; the nearest is {nearest(key, known)!r}")
        self._values, self.where = values, where

    def __contains__(self, key: str) -> bool:
        return key in self._values

    def raw(self, key: str) -> Any:
        if key not in self._values:
            raise RecordingError(f"{self.where}: {key} is missing")
        return self._values[key]

    def text(self, key: str, default: str | None = None) -> str:
        value = self._values.get(key, default) if default is not None else self.raw(key)
        if not isinstance(value, str):
            raise RecordingError(f"{self.where}: {key} must be text in quotes")
        return value

    def number(self, key: str) -> float:
        value = self.raw(key)
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise RecordingError(f"{self.where}: {key} must be a number")
        return float(value)

    def maybe_number(self, key: str) -> float | None:
        return self.number(key) if key in self else None

    def limit(self, key: str) -> float | None:
        """What cannot be below nothing."""
        value = self.maybe_number(key)
        if value is not None and not 0.0 <= value < inf:
            raise RecordingError(f"{self.where}: {key} must be 0 or more, not {value:g}")
        return value

    def whole(self, key: str, default: int) -> int:
        value = self._values.get(key, default)
        if isinstance(value, bool) or not isinstance(value, int):
            raise RecordingError(f"{self.where}: {key} must be a whole number")
        return value

    def yes(self, key: str) -> bool:
        value = self._values.get(key, False)
        if not isinstance(value, bool):
            raise RecordingError(f"{self.where}: {key} must be true or false")
        return value

    def one_of(self, key: str, kind: type[_E], default: str | None = None) -> _E:
        """A member of an enumeration by its name in small letters."""
        names = {member.name.lower(): member for member in kind}
        value = self.text(key, default)
        if value not in names:
            raise RecordingError(f"{self.where}: {key} is one of {', '.join(names)}, not {value!r}")
        return names[value]

    def tables(self, key: str, known: tuple[str, ...]) -> list["Table"]:
        """The tables of an array of tables, named by the number they have in it."""
        values = self._values.get(key, [])
        if not isinstance(values, list):
            raise RecordingError(f"{self.where}: write each {key} under a line [[{key}]]")
        return [Table(value, f"{self.where}, {key} {number}", known) for number, value in enumerate(values, 1)]

    def table(self, key: str, known: tuple[str, ...]) -> "Table":
        return Table(self.raw(key), f"{self.where}, {key}", known)
