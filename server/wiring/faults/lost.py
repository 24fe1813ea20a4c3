"""Steps of more than one sector: edges that were not seen."""

import numpy as np

from server.hall.table import steps_between
from server.verdict import Certainty, NextTest, Sign, Speaks, Verdict
from server.wiring.grounds import Grounds

_SLOWER = 3  # steps of longer states that skip nothing
_LEAST, _SHARE = 2, 0.01  # of the steps; a single one may be anything


def lost(grounds: Grounds) -> Verdict | None:
    """States are skipped; by sampling, only where sectors are short."""
    sector = grounds.course.sector
    known = (sector > 0) & grounds.visits.sure & ~grounds.lines.back & grounds.lines.stays
    both = known[1:] & known[:-1]
    steps = np.where(both, steps_between(sector), 0) if sector.size else np.zeros(0, np.int64)
    skipped, single = np.abs(steps) >= 2, np.abs(steps) == 1
    count, of = int(skipped.sum()), int(skipped.sum() + single.sum())
    if count < _LEAST or count < _SHARE * of:
        return None
    lasted = grounds.lines.lasted_s[1:]
    longest_skipped = float(np.max(lasted[skipped]))
    signs = [
        Sign(
            Speaks.FOR, f"{count} of {of} steps skip a sector, in states that lasted {_time(longest_skipped)} at most."
        )
    ]
    slower = int(np.count_nonzero(single & (lasted > longest_skipped)))
    if slower:
        signs.append(Sign(Speaks.FOR, f"None of {slower} steps of longer states does."))
    by_sampling = longest_skipped < 4 * grounds.look_s
    if by_sampling:
        signs.append(Sign(Speaks.FOR, f"The board looks at its inputs each {_time(grounds.look_s)} only."))
    fast = slower >= _SLOWER or by_sampling
    return Verdict(
        "hall_sampled_too_slowly",
        "Are edges lost?",
        f"Edges are lost: {count} of {of} steps skip a sector{', where it turns fast' if fast else ''}.",
        Certainty.PLAIN if by_sampling and slower >= _SLOWER else Certainty.PROBABLE,
        tuple(signs),
        ("Joined lines skip at every speed; an input filter that is too slow skips as sampling does.",),
        NextTest("Turn at half the speed, or use a board that stamps each edge with its time."),
    )


def _time(seconds: float) -> str:
    return f"{1e6 * seconds:.0f} us" if seconds < 1e-3 else f"{1e3 * seconds:.1f} ms"
