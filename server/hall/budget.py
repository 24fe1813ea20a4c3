"""What a speed from edges may be off by, as relative standard uncertainties (JCGM 100, 4.2 and 4.3). Pure.

Assumes that the shaft's mean speed over the stretch that was used is what is asked for; knows no clock.
"""

from math import inf, sqrt
from typing import TypeAlias

from server.hall.fit import TICK, Fit

Standard: TypeAlias = tuple[str, float, float]  # what it comes from, standard uncertainty, degrees of freedom

MAGNET_DEG = 0.6  # electrical, of one edge of one pole against the others: a healthy motor (common practice)
SCATTER_DEG = 0.1  # mechanical, of one edge (common practice)
_ROUNDING = "rounding to the clock's ticks"
_LOOKS = "time between two looks at the inputs"
_NO_ACCOUNT = 0.01  # of the scatter
PLACE_DEG_MAX = 15.0  # electrical, how far a sensor may sit from its place (common practice)


def _rounding(ticks: float, look_ticks: int) -> Standard:
    """Of the time between two edges, each anywhere in a tick or in the time between two looks: both ends rectangular
    (JCGM 100, 4.3.7)."""
    return (_ROUNDING if look_ticks <= 1 else _LOOKS, sqrt(2.0) * look_ticks * TICK / ticks, inf)


def of_fit(fit: Fit, look_ticks: int = 1) -> tuple[Standard, ...]:
    """Of a fit: its scatter, which has the rounding to ticks in it.

    A steady shaft may keep step with looks: edges are then off alike, or by a little more each time, and many of them
    tell no more than the first and the last.
    """
    changing: tuple[Standard, ...] = ()
    if fit.moved > _NO_ACCOUNT * fit.standard:
        changing = (("speed changing within the window", fit.moved / sqrt(3.0) / fit.step_ticks, inf),)  # a limit
    stretch = fit.steps * fit.step_ticks
    if look_ticks > 1 and _rounding(stretch, look_ticks)[1] > fit.standard / fit.step_ticks:
        return (_rounding(stretch, look_ticks), *changing)
    return (("scatter of the edges", fit.standard / fit.step_ticks, float(fit.dof)), *changing)


def of_turns(ticks: float, turns: float, fit: Fit | None, look_ticks: int = 1) -> tuple[Standard, ...]:
    """Of a stretch of whole mechanical turns, or of any but for where its edges sit: the scatter of two edges, which a
    fit tells, or a usual one."""
    if fit is not None:
        return (("scatter of the edges", sqrt(2.0) * fit.scatter / ticks, float(fit.dof)),)
    usual = sqrt(2.0) * SCATTER_DEG / (360.0 * turns)
    return (("scatter of a sensor (common practice)", usual, inf), _rounding(ticks, look_ticks))


def of_places(
    ticks: float, sectors: int, pole_pairs: int, fit: Fit | None, look_ticks: int = 1
) -> tuple[Standard, ...]:
    """Of a stretch of Hall edges: where it is no mechanical turn, where magnets, and sensors too, sit is not known."""
    if sectors == 6 * pole_pairs:
        return of_turns(ticks, 1, fit, look_ticks)
    scatter = of_turns(ticks, sectors / (6.0 * pole_pairs), fit, look_ticks)
    if sectors % 6 == 0:
        uneven = sqrt(2.0) * MAGNET_DEG / (60.0 * sectors)
        return (*scatter, ("magnets that are not even (common practice)", uneven, inf))
    place = sqrt(2.0 / 3.0) * PLACE_DEG_MAX / (60.0 * sectors)
    return (*scatter, ("where the sensors sit (common practice)", place, inf))


def of_counts(ticks: float, pulses: int, per_turn: int, look_ticks: int = 1) -> tuple[Standard, ...]:
    """Of so many pulses over their own time. Where they are no whole turns, nobody knows where they sit in a turn: each
    end may be off by up to one count."""
    if pulses % per_turn == 0:
        return of_turns(ticks, pulses // per_turn, None, look_ticks)
    uneven = sqrt(2.0 / 3.0) / pulses
    return (("one count at each end", uneven, inf), _rounding(ticks, look_ticks))
