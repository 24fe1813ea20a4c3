"""How a shaft is moved where no motor moves it: by a hand in strokes, or let go to coast."""

from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

from simulator.stories.hand import PAUSE_S, STROKE_S

Way: TypeAlias = Literal["forward", "backward", "back and forth", "coast"]
STROKES_ONE_WAY = 2  # of a hand that turns back and forth
STOPS_S = (0.8, 1.6)  # how long a bare rotor coasts, as a multiple of the time that is looked at
SHAPE_S = 0.6  # its viscous part, as a share of that time


def path_deg(
    way: Way,
    seconds: float,
    rate_hz: float,
    rpm: tuple[float, float],
    pole_pairs: int,
    draw: np.random.Generator,
) -> NDArray[np.float64]:
    """Electrical angle at each sample and one beyond, (samples + 1,), from a place that is drawn, within a turn.

    `rpm`: slowest and fastest peak of a stroke; a coast begins at the faster one, forward.
    """
    at_s = np.arange(round(seconds * rate_hz) + 1) / rate_hz
    speed_rpm = _coast(at_s, rpm[1], draw) if way == "coast" else _strokes(way, at_s, rpm, draw)
    per_sample = 6.0 * pole_pairs / rate_hz * speed_rpm
    turned = np.concatenate(([0.0], np.cumsum(0.5 * (per_sample[1:] + per_sample[:-1]))))
    return np.asarray(draw.uniform(0.0, 360.0 * pole_pairs) + turned)


def _strokes(
    way: Way, at_s: NDArray[np.float64], rpm: tuple[float, float], draw: np.random.Generator
) -> NDArray[np.float64]:
    """Squared sines with pauses between them, as simulator/stories/hand.py has them, r/min."""
    speed, begin_s, count = np.zeros(at_s.size), draw.uniform(0.0, 0.1), 0
    while begin_s < at_s[-1]:
        peak, lasts_s = draw.uniform(*rpm), draw.uniform(*STROKE_S)
        turned_back = way == "back and forth" and count // STROKES_ONE_WAY % 2 == 1
        first, last = np.searchsorted(at_s, (begin_s, begin_s + lasts_s))
        wave = np.sin(np.pi * (at_s[first:last] - begin_s) / lasts_s) ** 2
        speed[first:last] = (-peak if way == "backward" or turned_back else peak) * wave
        begin_s, count = begin_s + lasts_s + draw.uniform(*PAUSE_S), count + 1
    return speed


def _coast(at_s: NDArray[np.float64], from_rpm: float, draw: np.random.Generator) -> NDArray[np.float64]:
    """An exponential less a constant: J dw/dt = -T0 - B w from the first sample on, and rest."""
    stops_s = draw.uniform(*STOPS_S) * at_s[-1]
    fall = (np.exp(-at_s / (SHAPE_S * stops_s)) - np.exp(-1 / SHAPE_S)) / (1.0 - np.exp(-1 / SHAPE_S))
    return np.asarray(from_rpm * np.maximum(fall, 0.0))
