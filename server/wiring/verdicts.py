"""Everything that a stretch of turning says of the wiring: one face for all verdicts. Pure."""

from dataclasses import dataclass

from server.verdict import Verdict
from server.wiring.figures import UNCOUNTED, Alignment, EdgeErrors, PolePairs
from server.wiring.grounds import Grounds
from server.wiring.order import Judged, order_verdict


@dataclass(frozen=True, slots=True)
class Judgement:
    """`verdicts`: what is wrong first, then what holds, then what is still open. The rest is for drawings: `order`
    with its ways to mend it, and the figures of edges, None where nothing can be said of them."""

    verdicts: tuple[Verdict, ...]
    order: Judged
    alignment: Alignment | None = None
    errors: EdgeErrors | None = None
    pole_pairs: PolePairs = UNCOUNTED


def verdicts(grounds: Grounds) -> Judgement:
    """All verdicts on what came so far. A fault that makes later questions meaningless leaves them open."""
    order = order_verdict(grounds)
    return Judgement((order.verdict,), order)
