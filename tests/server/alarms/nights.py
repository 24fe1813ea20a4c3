"""Nights of ten hours, drawn by seed: what the supply, the load, the room and age do while a motor is watched.

What scatters (ours, no published source): the supply by 0.3 %, the load by 0.5 %, both with a memory. A night is
stationary where nothing else moves; it has a shift where supply, load or room do, and these are no wear either.
"""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from server.alarms.series import Series, taken
from server.alarms.watched import Figures, Numbers

NIGHT_S = 36_000.0
SUPPLY, LOAD = 0.003, 0.005
Array = NDArray[np.float64]
Window = tuple[float, bool, Numbers]  # when, whether it runs, its good readings


@dataclass(frozen=True)
class Kind:
    """`memory_s`: of supply and load, 0: none; `every_s`, `on_s`: it runs so long in each so long, 0: always.

    Over the night the supply changes by the part `supply`, the room by `air_k`; in the middle of it the supply steps by
    the part `supply_step`, the load by `load_step`. `age`: at its end, 0: it does not age, 1: as far as the motor says.
    """

    name: str
    memory_s: float = 0.0
    every_s: float = 0.0
    on_s: float = 0.0
    supply: float = 0.0
    air_k: float = 0.0
    supply_step: float = 0.0
    load_step: float = 0.0
    age: float = 0.0
    step_s: float = 10.0


STATIONARY = (
    Kind("white scatter"),
    Kind("memory of 10 minutes", 600.0),
    Kind("memory of 20 minutes", 1200.0),
)
NOW_AND_THEN = (
    Kind("a minute in ten, memory of 10 minutes", 600.0, 600.0, 60.0, step_s=2.0),
    Kind("a minute in seven, memory of 20 minutes", 1200.0, 420.0, 60.0, step_s=2.0),
)
SHIFTS = (
    Kind("the supply loses 3 %", 600.0, supply=-0.03),
    Kind("the supply rises by 10 % at once", 600.0, supply_step=0.1),
    Kind("the supply falls by 10 % at once", 600.0, supply_step=-0.1),
    Kind("the load grows by 20 % at once", 600.0, load_step=0.2),
    Kind("the load falls by 20 % at once", 600.0, load_step=-0.2),
    Kind("the room cools by 10 K", 600.0, air_k=-10.0),
    Kind("the room warms by 10 K", 600.0, air_k=10.0),
)
AGED = (Kind("ages, memory of 10 minutes", 600.0, age=1.0),)
AGED_NOW_AND_THEN = (Kind("ages, a minute in ten", 600.0, 600.0, 60.0, age=1.0, step_s=2.0),)


@dataclass(frozen=True)
class Drawn:
    """Of each moment `t`, shape (moments,): supply and load as parts of the usual, the room beside the usual in K."""

    t: Array
    supply: Array
    load: Array
    air_k: Array
    age: Array
    runs: NDArray[np.bool_]


def drawn(kind: Kind, rng: np.random.Generator) -> Drawn:
    """One night of this kind."""
    t = np.arange(0.0, NIGHT_S, kind.step_s)
    part, late = t / NIGHT_S, t >= 0.5 * NIGHT_S
    supply = (1.0 + kind.supply * part + kind.supply_step * late) * (1.0 + SUPPLY * _remembered(rng, t.size, kind))
    load = (1.0 + kind.load_step * late) * (1.0 + LOAD * _remembered(rng, t.size, kind))
    runs = np.mod(t, kind.every_s) < kind.on_s if kind.every_s else np.ones(t.size, bool)
    return Drawn(t, supply, load, kind.air_k * part, kind.age * part, runs)


def _remembered(rng: np.random.Generator, count: int, kind: Kind) -> Array:
    """Scatter of standard deviation 1 whose correlation falls to 1/e in the memory."""
    fresh: Array = rng.standard_normal(count)
    if not kind.memory_s:
        return fresh
    keep = np.exp(-kind.step_s / kind.memory_s)
    out, value = np.empty(count), fresh[0]
    for k, each in enumerate((np.sqrt(1.0 - keep * keep) * fresh).tolist()):
        value = keep * value + each
        out[k] = value
    return out


def found_after_s(night: Iterable[Window], figures: Figures, least_percent: float) -> float | None:
    """When a drift was found in the night; None: none was."""
    series = Series()
    for at_s, on, numbers in night:
        series = taken(series, figures, numbers, on, at_s, least_percent)
        if series.drift:
            return at_s
    return None
