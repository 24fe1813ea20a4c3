"""The rows of 10 ms as the strip draws them. Pure."""

from dataclasses import replace

import numpy as np

from server.readings import Doubt, Fast, Instant


def without_bounds(fast: Fast, instants: tuple[Instant, ...]) -> Fast:
    """The rows for the drawing: a speed that is only a bound, since no edge comes any more, is no curve."""
    speed_rpm = fast.speed_rpm
    for instant in instants:
        if instant.tick and any(
            each.key == "speed_rpm" and Doubt.ONLY_A_BOUND in each.doubt for each in instant.readings
        ):
            first_s = instant.board_s * instant.first_tick / instant.tick
            inside = (fast.board_s > first_s) & (fast.board_s <= instant.board_s) & (speed_rpm != 0.0)
            speed_rpm = np.where(inside, np.nan, speed_rpm)
    return fast if speed_rpm is fast.speed_rpm else replace(fast, speed_rpm=speed_rpm)
