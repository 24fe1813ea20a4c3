"""A reading beside what is true of it."""

from collections.abc import Callable, Iterable
from typing import NamedTuple, TypeAlias

import numpy as np

from server.readings import Reading

Truth: TypeAlias = float | tuple[float, ...]


class Told(NamedTuple):
    """`name`: under which it is counted; `truth`: of a list that of each value."""

    name: str
    reading: Reading
    truth: Truth


Family: TypeAlias = Callable[[np.random.Generator, int], list[Told]]  # case `int` of a kind of measurement


def beside(readings: Iterable[Reading], truths: dict[str, Truth]) -> list[Told]:
    """Those of which the truth is known, by their ids, under their keys."""
    return [Told(each.key, each, truths[each.id]) for each in readings if each.id in truths]
