"""Edges whose times run backwards: nothing that rests on time can be said."""

import numpy as np

from server.verdict import Certainty, NextTest, Sign, Speaks, Verdict
from server.wiring.grounds import Grounds


def stamps(grounds: Grounds) -> Verdict | None:
    """Time stamps that are not in order: a clock that wrapped or began anew, or edges that came twice."""
    back = int(np.count_nonzero(np.diff(grounds.edges.ticks) < 0))
    backward = back + int(np.count_nonzero(grounds.visits.end_tick < grounds.visits.begin_tick))
    if not backward:
        return None
    return Verdict(
        "edges_out_of_time",
        "Do the edges come in the order of their times?",
        "No: their times run backwards. The board's clock wrapped or began anew.",
        Certainty.PLAIN,
        (Sign(Speaks.FOR, f"{backward} of {grounds.edges.ticks.size} edges are earlier than the one before them."),),
        ("Nothing is judged of a stretch like this.",),
        NextTest("Begin the stretch anew; check the board where it comes again."),
    )
