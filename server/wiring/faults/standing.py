"""A shaft that stands, with power or without: nothing can be said of its wiring, and nothing is."""

import numpy as np

from server.verdict import Certainty, NextTest, Sign, Speaks, Verdict
from server.wiring.faults.fault import TURNING
from server.wiring.grounds import Grounds

QUESTION = "Does anything move?"
_POWER_S = 0.5  # of current: shorter, and it may just not have begun
_STATES = 3  # half a turn, one line not having changed


def standing(grounds: Grounds) -> Verdict | None:
    """No line changes; or, with current, the shaft moves to a place and trembles there."""
    visits, apart = grounds.visits, grounds.powered
    if apart is not None and not visits.count and grounds.edges.count <= 1 and apart.edges.count > 1:
        return standing(apart) or _runs(apart)
    states = np.unique(np.concatenate((visits.state, visits.before, visits.after)))
    states = states[states >= 0]
    one_by_one = bool((grounds.lines.single[visits.before >= 0] >= 0).all())
    powered = grounds.driven_s > _POWER_S
    if not visits.count and grounds.edges.count <= 1:
        return _stands(grounds, "no signal changed") if powered else _nothing_moves(grounds)
    if powered and states.size <= _STATES and one_by_one:
        named = " ".join(str(state) for state in states)
        return _stands(grounds, f"{grounds.edges.count} edges came, all among states {named}")
    return None


def _nothing_moves(grounds: Grounds) -> Verdict:
    signs = [Sign(Speaks.MISSING, f"{grounds.edges.count} edges in {grounds.lasted_s:.1f} s.")]
    if grounds.probed:
        signs.append(Sign(Speaks.MISSING, f"The windings made {grounds.most_v:.2g} V at most."))
    return Verdict(
        "nothing_moved",
        QUESTION,
        "Nothing changed. Either the shaft stands, or the sensors have no supply.",
        Certainty.OPEN,
        tuple(signs),
        ("Every other question.",),
        NextTest("Turn the shaft, two electrical turns or more.", TURNING),
    )


def _runs(powered: Grounds) -> Verdict:
    return Verdict(
        "runs_under_power",
        QUESTION,
        "It runs under power: this judges a shaft that is turned by hand; unplug the drive and turn.",
        Certainty.OPEN,
        (Sign(Speaks.MISSING, f"All {powered.edges.count} edges came in {powered.driven_s:.1f} s under power."),),
        ("Every other question.",),
        NextTest("Unplug the drive, then turn the shaft by hand, two electrical turns or more.", TURNING),
    )


def _stands(grounds: Grounds, seen: str) -> Verdict:
    return Verdict(
        "stands_under_power",
        QUESTION,
        "It stands under power: jammed, on a dead spot, or wired in the wrong order.",
        Certainty.OPEN,
        (Sign(Speaks.FOR, f"Current flowed for {grounds.driven_s:.1f} s, and {seen}."),),
        ("Whether wires must be moved: a jammed motor that is wired well looks the same.",),
        NextTest("Off. Does it turn freely by hand? If so, turn it by hand and look at the signals.", TURNING),
    )
