"""What a story can change while a motor runs, and what a motor is made of: by name and within its range."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from simulator.nearest import nearest

_SWITCH = {"on": 1.0, "yes": 1.0, "true": 1.0, "off": 0.0, "no": 0.0, "false": 0.0}


@dataclass(frozen=True, slots=True)
class Control:
    """One thing that a story can change; an on/off control is 0 or 1. Units stand at the end of the name.

    Word k of `words` is another way to write the value k; `only`: the values of a range between which nothing lies.
    """

    name: str
    initial: float
    lowest: float
    highest: float
    meaning: str
    words: tuple[str, ...] = ()
    only: tuple[float, ...] = ()

    def of(self, said: str | float) -> float:
        """The value that a person wrote, as a word or a number. ValueError says what can be written."""
        if isinstance(said, str) and said in self.words:
            return float(self.words.index(said))
        try:
            value = float(_SWITCH.get(said.lower(), said) if isinstance(said, str) else said)
        except ValueError:
            known = f"one of {', '.join(self.words)}" if self.words else "a number such as 12.5, or on or off"
            raise ValueError(f"{said!r} is no number; write {known}") from None
        if not self.lowest <= value <= self.highest:
            raise ValueError(f"{value:g} is outside {self.lowest:g} to {self.highest:g}")
        if self.words and value != int(value):
            raise ValueError(f"{value:g} lies between two; write one of {', '.join(self.words)}")
        if self.only and value not in self.only:
            raise ValueError(f"{value:g} cannot be set; write {' or '.join(f'{each:g}' for each in self.only)}")
        return value


def changed(now: Mapping[str, float], changes: Mapping[str, float], known: tuple[Control, ...]) -> dict[str, float]:
    """The controls after `changes`. ValueError names the nearest control, or the range of a value."""
    by_name = {control.name: control for control in known}
    for name, value in changes.items():
        control = by_name.get(name)
        if control is None:
            raise ValueError(f"no control {name!r}; the nearest is {nearest(name, by_name)!r}, of {', '.join(by_name)}")
        if not control.lowest <= value <= control.highest:
            raise ValueError(f"{name} = {value:g} is outside {control.lowest:g} to {control.highest:g}")
    return {**now, **{name: float(value) for name, value in changes.items()}}


def ranged(parameters: Any, ranges: Mapping[str, tuple[float, float]]) -> None:
    """What the equations cannot follow, such as nothing that they divide by. ValueError: a parameter out of its range.

    Of a tuple each number is in the range.
    """
    for name, (lowest, highest) in ranges.items():
        value = getattr(parameters, name)
        for number in value if isinstance(value, tuple) else (value,):
            if not lowest <= number <= highest:
                raise ValueError(f"{name} = {number:g} is outside {lowest:g} to {highest:g}")


def initial(known: tuple[Control, ...]) -> dict[str, float]:
    """All controls as they stand when a motor is made."""
    return {control.name: float(control.initial) for control in known}
