"""One pulse a turn of the shaft: high for half of it, a quarter turn to either side of where the shaft begins."""

from math import floor, pi

from simulator.physics.stepping import inlined


@inlined
def index_high(angle_rad: float) -> bool:
    """The level at this angle of the shaft."""
    turns = angle_rad / (2.0 * pi) + 0.25
    return bool(turns - floor(turns) < 0.5)


@inlined
def index_edge(before_rad: float, after_rad: float) -> float:
    """The share of a step after which the level changed in it."""
    edge_rad = pi * (floor(max(before_rad, after_rad) / pi + 0.5) - 0.5)
    return min(max((edge_rad - before_rad) / (after_rad - before_rad), 0.0), 1.0)
