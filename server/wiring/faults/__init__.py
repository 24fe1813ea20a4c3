"""What can be wrong with sensors, cable, board and probes, in the order of judging.

An earlier fault that makes later questions meaningless ends the judging; what is left is said to be open. Pure.
"""

from server.verdict import Verdict
from server.wiring.faults.contradiction import contradiction
from server.wiring.faults.driving import driving
from server.wiring.faults.fault import Fault
from server.wiring.faults.joined import joined
from server.wiring.faults.loose import floating, loose, loose_supply
from server.wiring.faults.lost import lost
from server.wiring.faults.polarity import polarity
from server.wiring.faults.pulses import pulses
from server.wiring.faults.silent_lead import silent_lead
from server.wiring.faults.stamps import stamps
from server.wiring.faults.standing import standing
from server.wiring.faults.stuck import stuck
from server.wiring.faults.supply import supply
from server.wiring.faults.weak_supply import weak_supply
from server.wiring.grounds import Grounds

FAULTS = (
    Fault(stamps, ends=True),
    Fault(supply, ends=True),
    Fault(weak_supply, ends=False),
    Fault(standing, ends=True),
    Fault(floating, ends=True),
    Fault(stuck, ends=True),
    Fault(joined, ends=True),
    Fault(loose_supply, ends=True),
    Fault(polarity, ends=False),
    Fault(loose, ends=False),
    Fault(pulses, ends=False),
    Fault(lost, ends=False),
    Fault(contradiction, ends=True),
    Fault(driving, ends=True),
    Fault(silent_lead, ends=True),
)


def faults(grounds: Grounds) -> tuple[list[Verdict], bool]:
    """Those found, and whether judging ends with the last of them."""
    found: list[Verdict] = []
    for fault in FAULTS:
        verdict = fault.found(grounds)
        if verdict is None:
            continue
        found.append(verdict)
        if fault.ends:
            return found, True
    return found, False
