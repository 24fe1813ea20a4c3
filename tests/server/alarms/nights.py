"""Nights of a bilge pump by its quasi-steady equations, with the scatter of a bench; wear or none.

    k_e w = U - (R + r) i - U_b,  k_e i = T_0 + B w + k_L w^2

with the invented parameters of the bench's pump; r grows with wear. What scatters (ours, no published source): the
battery by 0.3 %, the load by 0.5 %, both with a memory; each window's speed by 0.1 % and current by 0.5 % besides.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from server.alarms.series import Series, taken
from server.alarms.watched import Figures, Numbers

R, KE, UB, T0, B, KL = 0.42, 0.0259, 0.6, 0.005, 3e-6, 7.127e-7
NIGHT_S = 36_000.0
SPEED_LOST = 0.022  # of the speed, at the end of a night of wear
Array = NDArray[np.float64]


@dataclass(frozen=True)
class Kind:
    """`memory_s`: of battery and load, 0: none; `every_s`, `on_s`: it runs so long in each so long, 0: always.

    `falls`: the battery loses so much of its voltage in the night; `wear`: brushes do.
    """

    name: str
    memory_s: float = 0.0
    every_s: float = 0.0
    on_s: float = 0.0
    falls: float = 0.0
    wear: bool = False
    step_s: float = 10.0


STATIONARY = (
    Kind("white scatter"),
    Kind("memory of 10 minutes", 600.0),
    Kind("memory of 20 minutes", 1200.0),
    Kind("a minute in ten, memory of 10 minutes", 600.0, 600.0, 60.0, step_s=2.0),
    Kind("a minute in seven, memory of 20 minutes", 1200.0, 420.0, 60.0, step_s=2.0),
)
EMPTYING = Kind("the battery loses 3 %", 600.0, falls=0.03)
WORN = (
    Kind("wear, memory of 10 minutes", 600.0, wear=True),
    Kind("wear, a minute in ten", 600.0, 600.0, 60.0, wear=True, step_s=2.0),
)


def steady(volts: Array, load: Array, extra_ohm: Array) -> tuple[Array, Array]:
    """Speed in r/min and current in A, all of shape (windows,): the positive root of the quadratic in w."""
    ohm = R + extra_ohm
    a, b = ohm * KL * load / KE, KE + ohm * B / KE
    c = UB + ohm * T0 / KE - volts
    w = (-b + np.sqrt(b * b - 4.0 * a * c)) / (2.0 * a)
    return w * 30.0 / np.pi, (T0 + B * w + KL * load * w * w) / KE


@cache
def worn_ohm() -> float:
    """What must be added to the winding for the speed to fall as far as it does in a night of wear."""
    one = np.ones(1)
    new = steady(12.0 * one, one, 0.0 * one)[0][0]
    low, high = 0.0, 1.0
    for _ in range(50):
        middle = 0.5 * (low + high)
        far = 1.0 - steady(12.0 * one, one, middle * one)[0][0] / new > SPEED_LOST
        low, high = (low, middle) if far else (middle, high)
    return high


def remembered(rng: np.random.Generator, count: int, memory_s: float, step_s: float) -> Array:
    """Scatter of standard deviation 1 whose correlation falls to 1/e in `memory_s`."""
    fresh: Array = rng.standard_normal(count)
    if not memory_s:
        return fresh
    keep = np.exp(-step_s / memory_s)
    out, value = np.empty(count), fresh[0]
    for k, each in enumerate((np.sqrt(1.0 - keep * keep) * fresh).tolist()):
        value = keep * value + each
        out[k] = value
    return out


def windows(kind: Kind, rng: np.random.Generator) -> Iterator[tuple[float, bool, Numbers]]:
    """Time, whether it runs, and the good readings of each window."""
    t = np.arange(0.0, NIGHT_S, kind.step_s)
    volts = (
        12.0 * (1.0 - kind.falls * t / NIGHT_S) * (1.0 + 0.003 * remembered(rng, t.size, kind.memory_s, kind.step_s))
    )
    load = 1.0 + 0.005 * remembered(rng, t.size, kind.memory_s, kind.step_s)
    rpm, amps = steady(volts, load, worn_ohm() * kind.wear * t / NIGHT_S)
    rpm *= 1.0 + 0.001 * rng.standard_normal(t.size)
    amps *= 1.0 + 0.005 * rng.standard_normal(t.size)
    runs = np.ones(t.size, bool) if not kind.every_s else np.mod(t, kind.every_s) < kind.on_s
    for at_s, on, n, i, u in zip(t.tolist(), runs.tolist(), rpm.tolist(), amps.tolist(), volts.tolist(), strict=True):
        yield at_s, on, {"speed_rpm": n, "current_mean_a": i, "voltage_mean_v": u}


def found_after_s(night: list[tuple[float, bool, Numbers]], figures: Figures, least_percent: float) -> float | None:
    """When a drift was found in the night; None: none was."""
    series = Series()
    for at_s, on, numbers in night:
        series = taken(series, figures, numbers, on, at_s, least_percent)
        if series.drift:
            return at_s
    return None
