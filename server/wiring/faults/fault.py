"""What a fault of sensors, cable or board is to the judging. Records only."""

from collections.abc import Callable
from typing import NamedTuple

from server.verdict import Verdict
from server.wiring.grounds import Grounds

METER = "Everything off before a wire is touched. Slipring only watches: it can't switch anything off."
TURNING = "Power off, the drive unplugged from the motor. A turning motor makes voltage: don't touch bare ends."


class Fault(NamedTuple):
    """`found`: the verdict where it is there. `ends`: what follows in the order of judging means nothing then."""

    found: Callable[[Grounds], Verdict | None]
    ends: bool
