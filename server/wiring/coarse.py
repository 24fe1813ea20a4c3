"""What a board loses that only looks at its inputs now and then, at each sample for instance. Pure.

An edge lies anywhere in the time before the look that found it: standard uncertainty that time over the root of 12
(JCGM 100, 4.3.7), of the time between two edges 0.41 of it.
"""

from math import sqrt

import numpy as np

from server.verdict import Certainty, NextTest, Sign, Speaks, Verdict
from server.wiring.grounds import Grounds

_SECTOR_DEG, _OFF_DEG = 60.0, 15.0  # the shortest sector: a sensor so far out of place (common practice)
_USABLE = 4  # looks in the shortest sector, for an angle that is of use (ours)
_FASTEST = 5  # percent of the visits: the speed that is spoken of


def coarse_verdict(grounds: Grounds) -> Verdict | None:
    """Figures at the speed of this stretch; None where each edge carries its own time, or none came."""
    step_s = grounds.look_s
    lasted = grounds.lines.lasted_s[grounds.course.sense != 0]
    if step_s <= 0.0 or not lasted.size:
        return None
    sector_s = max(float(np.percentile(lasted, _FASTEST)), step_s)
    each_deg = _SECTOR_DEG * step_s / sector_s
    one, turn = sqrt(1.0 / 6.0) * step_s / sector_s, sqrt(1.0 / 6.0) * step_s / (6.0 * sector_s)
    most_hz = (_SECTOR_DEG - _OFF_DEG) / 360.0 / step_s
    signs = (
        Sign(
            Speaks.FOR,
            f"At the fastest, {1e3 * sector_s:.2g} ms a sector, a look is {each_deg:.2g} degrees: an edge is told"
            f" to {each_deg / sqrt(12.0):.2g} degrees (standard).",
        ),
        Sign(
            Speaks.FOR,
            f"Speed from one sector is told to {100 * one:.2g} %, over an electrical turn to {100 * turn:.2g} %"
            " (standard).",
        ),
        Sign(
            Speaks.FOR,
            f"Edges are kept apart up to {_speed(grounds, most_hz)}, angles are of use up to"
            f" {_speed(grounds, most_hz / _USABLE)}.",
        ),
    )
    return Verdict(
        "edges_coarse",
        "How well are edges timed?",
        f"Only to a look at the inputs, {1e6 * step_s:.0f} us: the board does not stamp edges with their times.",
        Certainty.PLAIN,
        signs,
        ("Pulses shorter than the time between two looks are not seen, or are taken for states.",),
        NextTest("A board that stamps edges to 1 us tells all of this better by the ratio of the two."),
    )


def _speed(grounds: Grounds, electrical_hz: float) -> str:
    pairs = grounds.known.pole_pairs
    return f"{60.0 * electrical_hz / pairs:.0f} r/min" if pairs else f"{electrical_hz:.0f} electrical turns a second"
