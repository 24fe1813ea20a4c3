"""What a speed from edges may be off by, as relative standard uncertainties (JCGM 100, 4.2 and 4.3). Pure.

Assumes that the shaft's mean speed over the stretch that was used is what is asked for; knows no clock.
"""

from math import inf, sqrt
from typing import TypeAlias

from server.hall.fit import TICK, Fit

Standard: TypeAlias = tuple[str, float, float]  # what it comes from, standard uncertainty, degrees of freedom

MAGNET_DEG = 0.6  # electrical, of one edge of one pole against the others: a healthy motor (common practice)
PLACE_DEG_MAX = 15.0  # electrical, how far a sensor may sit from its place (common practice)


def of_fit(fit: Fit) -> tuple[Standard, ...]:
    """Of a fit: its scatter, which has the rounding to ticks in it."""
    return (("scatter of the edges", fit.standard / fit.step_ticks, float(fit.dof)),)


def of_turns(ticks: float) -> tuple[Standard, ...]:
    """Of a stretch of whole mechanical turns: two times that are rounded to ticks."""
    return (("rounding to the clock's ticks", sqrt(2.0) * TICK / ticks, inf),)


def of_places(ticks: float, sectors: int, pole_pairs: int) -> tuple[Standard, ...]:
    """Of a stretch of Hall edges that is no mechanical turn: where magnets, and sensors too, sit is not known."""
    if sectors % 6 == 0:
        if pole_pairs == 1:
            return of_turns(ticks)
        uneven = ("magnets that are not even (common practice)", sqrt(2.0) * MAGNET_DEG / (60.0 * sectors), inf)
        return (*of_turns(ticks), uneven)
    place = ("where the sensors sit (common practice)", sqrt(2.0 / 3.0) * PLACE_DEG_MAX / (60.0 * sectors), inf)
    return (*of_turns(ticks), place)
