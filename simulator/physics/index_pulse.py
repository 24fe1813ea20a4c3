"""One pulse a turn of the shaft: high for half of it, from angle 0 on or to either side of it.

A place is what the angle, in half turns, is ahead by: a pulse is high where floor(angle / pi + place) is even. Each
motor begins in the middle of its pulse, so that a shaft at rest stands on no edge.
"""

from collections.abc import Callable
from math import floor, pi
from typing import Any

from simulator.physics.stepping import inlined

FROM_ZERO, AROUND_ZERO = 0.0, 0.5


@inlined
def pulsed(
    place: float, before_rad: float, after_rad: float, t: float, h: float, times: Any, levels: Any, edges: int
) -> int:
    """Write down the edge of a step from `t` to `t + h`, if it has one; returns how many there are now."""
    before, after = floor(before_rad / pi + place), floor(after_rad / pi + place)
    if before == after:
        return edges
    passed_rad = (max(before, after) - place) * pi
    times[edges] = t + h * (passed_rad - before_rad) / (after_rad - before_rad)
    levels[edges] = 1 - after % 2
    return edges + 1


def shaft_level(place: float) -> Callable[[Any, Any], int]:
    """What the input of a motor with `angle_rad` in its state reads: `level` of its model."""
    return lambda case, state: 1 - floor(float(state["angle_rad"]) / pi + place) % 2
