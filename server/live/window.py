"""From when to when the picture goes, so that it stands still. Pure."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from server.live.crossings import rising_zeros
from server.live.pair import Line

CYCLES = 3
ZOOMS = (1, 2, 3, 6, 12, 25)  # cycles that a viewer may ask for; a few, as each is a picture of its own
FREE_S = 0.02  # where nothing repeats
OVERDUE = 3.0  # turns without a rise: braking hard, a turn may take twice the one before


@dataclass(frozen=True, slots=True)
class Window:
    """A stretch of board time; `cycles` where it is whole cycles, `turns` where it is as long as turns of the shaft."""

    start_s: float
    span_s: float
    cycles: int | None = None
    held_at: str = ""
    turns: int | None = None


def held_at_zero(line: Line, frequency_hz: float, end_s: float, cycles: int = CYCLES) -> Window | None:
    """The last so many cycles that begin where the line's wave rises through zero and end before `end_s`."""
    if not frequency_hz > 0:
        return None
    ring, period = line.ring, line.ring.rate_hz / frequency_hz
    looked_at = min(ring.count, int((cycles + 2.5) * period))
    if period < 2 or looked_at < cycles * period:
        return None
    begin_s = ring.end_s - looked_at / ring.rate_hz - line.channel.delay_s
    zeros_s = begin_s + rising_zeros(ring.values[line.row, ring.count - looked_at :], period) / ring.rate_hz
    span_s = cycles / frequency_hz
    fitting = zeros_s[zeros_s + span_s <= end_s]
    if not fitting.size:
        return None
    return Window(float(fitting[-1]), span_s, cycles, f"rising zero of the {line.channel.role.name.lower()}")


def held_at_hall(rises_s: NDArray[np.float64], first_s: float, end_s: float, cycles: int = CYCLES) -> Window | None:
    """The last so many electrical turns between rising edges of Hall A, shape (edges,), board time, in order.

    None where the next rise has been due for long: the rotor stands, and what was is no picture of what is.
    """
    inside = rises_s[(rises_s >= first_s) & (rises_s <= end_s)]
    if inside.size <= cycles:
        return None
    if end_s - inside[-1] > OVERDUE * np.diff(inside[-1 - cycles :]).max():
        return None
    start_s, stop_s = float(inside[-1 - cycles]), float(inside[-1])
    return Window(start_s, stop_s - start_s, cycles, "Hall A rising") if stop_s > start_s else None


def newest(end_s: float, span_s: float, turns: int | None = None) -> Window:
    """The last stretch, held at nothing."""
    return Window(end_s - span_s, span_s, turns=turns)
