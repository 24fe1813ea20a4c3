"""A lead whose voltage is missing while the others have theirs."""

import numpy as np

from server.verdict import Certainty, NextTest, Sign, Speaks, Verdict
from server.wiring.faults.fault import TURNING
from server.wiring.grounds import Grounds

_SILENT = 0.5  # of the other two; a lead that reads nothing keeps 0.38 of them, by the mean of three (own sum)
_EDGES = 6
_GAINS = 2.0  # standard uncertainties of gain


def silent_lead(grounds: Grounds) -> Verdict | None:
    """By the voltage-time sums of whole visits, which are alike for three windings."""
    if grounds.induced < _EDGES:
        return None
    chosen = (grounds.course.sense != 0) & (grounds.visits.loud > 0.0)
    sizes = np.abs(grounds.visits.leads_v_s[chosen]).sum(axis=0)
    least = int(np.argmin(sizes))
    beside = float(np.delete(sizes, least).mean())
    gain = (grounds.off_by.gain if grounds.off_by is not None else None) or 0.0
    unequal = _GAINS * gain * float(grounds.visits.read_v_s[chosen].sum())  # of a voltage that all have in common
    if sizes[least] + unequal >= _SILENT * beside:
        return None
    name = grounds.known.names.phase(least)
    return Verdict(
        "lead_silent",
        "Does every lead show its winding?",
        f"The voltage of {name} is missing: its probe is not connected, or the winding is open.",
        Certainty.PROBABLE,
        (Sign(Speaks.FOR, f"{name} makes {sizes[least] / beside:.2f} of what the other two make."),),
        ("Which order of wires fits can't be judged before that.",),
        NextTest("Check the probe; then ohmmeter between the leads: three equal values.", TURNING),
    )
