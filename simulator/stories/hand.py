"""A hand that turns a shaft: strokes of uneven length and strength with pauses between them."""

from collections.abc import Iterator
from math import pi, sin
from random import Random

HAND_WAYS = ("forward", "backward", "back and forth")
STEP_S = 0.02
STROKE_S, PAUSE_S = (0.5, 0.9), (0.0, 0.25)


def strokes(
    way: str, begin_s: float, end_s: float, low_rpm: float, high_rpm: float, draw: Random
) -> Iterator[tuple[float, float]]:
    """(time, speed in r/min) in steps of 20 ms: each stroke is a squared sine; back and forth changes every fourth."""
    at_s, count = begin_s, 0
    while at_s < end_s:
        peak, lasts_s = draw.uniform(low_rpm, high_rpm), draw.uniform(*STROKE_S)
        backward = way == "backward" or (way == "back and forth" and count // 4 % 2 == 1)
        steps = round(lasts_s / STEP_S)
        for k in range(1, steps + 1):
            time_s = round(at_s + k * STEP_S, 6)
            if time_s >= end_s:
                return
            yield time_s, round((-peak if backward else peak) * sin(pi * k / steps) ** 2, 3)
        at_s, count = at_s + steps * STEP_S + draw.uniform(*PAUSE_S), count + 1
