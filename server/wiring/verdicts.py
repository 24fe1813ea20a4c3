"""Everything that a stretch of turning says of the wiring: one face for all verdicts. Pure."""

from dataclasses import dataclass

from server.verdict import Certainty, Sign, Speaks, Verdict
from server.wiring.alignment import alignment_of
from server.wiring.coarse import coarse_verdict
from server.wiring.faults import faults
from server.wiring.figures import UNCOUNTED, Alignment, EdgeErrors, PolePairs
from server.wiring.grounds import Grounds
from server.wiring.misplaced import misplaced_verdicts
from server.wiring.order import PLAIN, Judged, order_after, order_verdict
from server.wiring.pairs import pairs_verdict, pole_pairs_of
from server.wiring.places import edge_errors
from server.wiring.timing import timing_verdict


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
    found, ended = faults(grounds)
    if ended:
        order = order_after(found[-1])
        return Judgement((*found, order.verdict), order)
    order = order_verdict(grounds)
    alignment = alignment_of(grounds)
    errors = edge_errors(grounds.visits, grounds.course, alignment, grounds.known.pole_pairs, grounds.tick_hz)
    pairs = pole_pairs_of(grounds)
    rest = [
        order.verdict,
        timing_verdict(grounds, alignment, _order_is_wrong(order)),
        *misplaced_verdicts(grounds, errors),
    ]
    rest += [pairs_verdict(grounds, pairs), coarse_verdict(grounds)]
    said = [*found, *(each for each in rest if each is not None)]
    if not found and grounds.course.edges >= PLAIN:
        said.append(_lines_good(grounds, order))
    return Judgement(tuple(sorted(said, key=_rank)), order, alignment, errors, pairs)


HOLDS = frozenset(
    ("commutation_good", "commutation_timed", "hall_lines_good", "pole_pairs_counted", "hall_chatter", "edges_coarse")
)


def _rank(verdict: Verdict) -> int:
    """What is wrong, what holds, what is open; the order of judging within each."""
    if verdict.certainty is Certainty.OPEN:
        return 2
    return 1 if verdict.key in HOLDS else 0


def _order_is_wrong(order: Judged) -> bool:
    """Whether plugs must be moved."""
    return any(way.to.plugs for way in order.mends)


def _lines_good(grounds: Grounds, order: Judged) -> Verdict:
    course, names = grounds.course, grounds.known.names
    right = bool(order.mends) and not _order_is_wrong(order)
    how = ", and their states come in order" if right else " in turn; that says nothing of the order of the wires"
    a, b, c = grounds.changes
    return Verdict(
        "hall_lines_good",
        "Are all three signals alive?",
        f"{names.several([0, 1, 2])} switch{how}.",
        Certainty.PLAIN,
        (
            Sign(
                Speaks.FOR, f"{course.edges} edges, {abs(course.turned)} sectors one way; A {a}, B {b}, C {c} changes."
            ),
        ),
    )
