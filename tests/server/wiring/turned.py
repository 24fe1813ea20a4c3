"""A brushless motor turned by hand, worked out from first principles for the tests: sensors are signs of sines, the
back-EMF is a trapezoid or a sine. Independent of the service and of the software board."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from server.hall.tail import Tail
from server.wiring.leads import Leads

RATE_HZ, TICK_HZ = 4000.0, 1_000_000.0
RISE_DEG = {120: (30.0, 150.0, 270.0), 60: (30.0, 90.0, 150.0)}


@dataclass(frozen=True)
class Hand:
    """`halls[k]`: the sensor on input k; `phases[k]`: the phase on lead k; `late_deg`: sensors behind the EMF, turning
    forward; `sine`: shape of the EMF."""

    halls: tuple[int, int, int] = (0, 1, 2)
    phases: tuple[int, int, int] = (0, 1, 2)
    inverted: int = 0
    spacing_deg: int = 120
    direction: int = 1
    late_deg: float = 0.0
    sine: bool = False
    turns: float = 3.0


@lru_cache(maxsize=8)
def _path(turns: float) -> NDArray[np.float64]:
    """Angle in electrical degrees of an uneven stroke, at RATE_HZ."""
    x = np.linspace(0.0, 1.0, round(0.4 * turns * RATE_HZ))
    return np.asarray(360.0 * turns * (x - 0.12 * np.sin(2 * np.pi * x) / (2 * np.pi) * 5), dtype=np.float64)


def trapezoid(angle: NDArray[np.float64]) -> NDArray[np.float64]:
    """Flat from 30 to 150 degrees, slopes of 60 degrees."""
    places, heights = (0, 30, 150, 210, 330, 360), (0, 1, 1, -1, -1, 0)
    return np.asarray(np.interp(angle % 360.0, places, heights), dtype=np.float64)


def turned_by_hand(hand: Hand, offset_deg: float = 17.0) -> tuple[Tail, Leads]:
    """Edges and voltages of the leads of one stroke."""
    angle = hand.direction * _path(hand.turns) + offset_deg
    speed = np.abs(np.gradient(angle)) * hand.direction
    levels = [((angle - rise - hand.late_deg) % 360.0) < 180.0 for rise in RISE_DEG[hand.spacing_deg]]
    a, b, c = (levels[sensor].astype(np.int64) for sensor in hand.halls)
    states = (a | b << 1 | c << 2) ^ hand.inverted
    shape = (lambda a: np.sin(np.radians(a))) if hand.sine else trapezoid
    emf = np.stack([speed * shape(angle - 120.0 * phase) for phase in hand.phases])
    volts = emf - emf.mean(axis=0)
    at = np.flatnonzero(np.diff(states)) + 1
    step = TICK_HZ / RATE_HZ
    tail = Tail((at * step).astype(np.int64), states[at], int(states[0]), 0, 0)
    spread = volts.max(axis=0) - volts.min(axis=0)
    return tail, Leads(volts, spread, spread, 0.0, step, 0.02 * float(spread.max()))
