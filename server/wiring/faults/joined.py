"""Two lines, or all three, that always change together."""

from itertools import combinations

import numpy as np

from server.verdict import Certainty, NextTest, Sign, Speaks, Verdict
from server.wiring.faults.fault import METER
from server.wiring.grounds import Grounds

QUESTION = "Are lines joined?"
_APART = 0.01  # of the time: two lines that are joined differ no longer than their inputs take (ours)
_TOGETHER, _PLAIN = 2, 4  # changes at once: one electrical turn, two of them


def joined(grounds: Grounds) -> Verdict | None:
    """Lines that are equal all the time although they move."""
    lasted = grounds.lines.lasted_s
    total = float(lasted.sum())
    if total <= 0.0:
        return None
    pairs = []
    for one, other in combinations(range(3), 2):
        apart = (grounds.visits.state >> one ^ grounds.visits.state >> other) & 1
        both = 1 << one | 1 << other
        at_once = int(np.count_nonzero(grounds.lines.flipped & both == both))
        if float(lasted[apart == 1].sum()) <= _APART * total and at_once >= _TOGETHER:
            pairs.append((one, other, at_once))
    if len(pairs) > 1:
        return _all_three(grounds, pairs[0][2])
    if not pairs:
        return None
    one, other, at_once = pairs[0]
    third = 3 - one - other
    if grounds.lines.toggles(third) < _TOGETHER:
        return None
    return _two(grounds, one, other, at_once)


def _two(grounds: Grounds, one: int, other: int, at_once: int) -> Verdict:
    names = grounds.known.names.several([one, other])
    high = grounds.visits.state >> one & 1 == 1
    share = float(grounds.lines.lasted_s[high].sum()) / float(grounds.lines.lasted_s.sum())
    how = "low as soon as one is low: open-collector outputs" if share < 0.5 else "high as soon as one is high"
    return Verdict(
        "hall_lines_joined",
        QUESTION,
        f"{names} are joined, somewhere between sensors and inputs.",
        Certainty.PLAIN if at_once >= _PLAIN else Certainty.PROBABLE,
        (
            Sign(Speaks.FOR, f"{names} changed at the same moment {at_once} times, and never apart."),
            Sign(Speaks.FOR, f"They are high in {share:.2f} of the time, {how}; alone each would be near 0.5."),
        ),
        ("Order, timing, places and pole pairs can't be judged before that.",),
        NextTest(f"Ohmmeter between {names}, or unplug one: the other then is high half of the time.", METER),
    )


def _all_three(grounds: Grounds, at_once: int) -> Verdict:
    return Verdict(
        "hall_lines_joined",
        QUESTION,
        "A, B and C always change together: a loose supply or ground of the sensors, or all three lines joined.",
        Certainty.PROBABLE,
        (Sign(Speaks.FOR, f"All three changed at the same moment {at_once} times, and never apart."),),
        ("Order, timing, places and pole pairs can't be judged before that.",),
        NextTest("Move the connector with the shaft at rest; then ohmmeter between the three wires.", METER),
    )
