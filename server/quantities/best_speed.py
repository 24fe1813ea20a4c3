"""One speed of all that edges, a counter, ripple, slots and EMF say: the best, doubtful where two differ. Pure."""

from server.hall import MAYBE_LOST
from server.quantities.reasons import given, joined
from server.readings import Confidence, Doubt, Reading, absent, doubtful

SOURCES = {
    "counter_speed_rpm": "pulse counter",
    "ripple_speed_rpm": "commutator ripple",
    "slot_speed_rpm": "rotor slots",
    "emf_speed_rpm": "back-EMF",
}
SPEED_KEYS = ("speed_rpm", "speed_source")
_APART = 0.01  # of the speed: two that are taken over the same window may differ by no more
_CHANGING = 0.05  # and where the speed changed within it, or an edge is late


def best_speed(edges: Reading | None, source: Reading | None, others: list[Reading]) -> list[Reading]:
    """`speed_rpm` and `speed_source` by what is there, best first: edges, then the others in their order.

    `edges`: speed from edges, None where no input tells it; `source`: in words over which of them. A doubtful one
    stands behind a good one, which is doubtful itself where the edges only are because frames were lost.
    """
    known = [each for each in others if each.key in SOURCES]
    every = [(each, SOURCES[each.key]) for each in known]
    if edges is not None:
        every.insert(0, (edges, str(source.value) if source is not None and source.value else "edges"))
    good = [each for each in every if each[0].confidence is Confidence.GOOD]
    best, words = (good or [each for each in every if each[0].value is not None] or every)[0]
    if not isinstance(best.value, float):
        lines = [each.reason for each in known if each.key != "emf_speed_rpm"]  # which a motor has only while it coasts
        reason = edges.reason if edges is not None else joined("no input gives the speed", *lines)
        return [absent("speed_rpm", reason), absent("speed_source", reason)]
    as_it_is = best.confidence, best.reason, "", best.least, best.uncertainty, best.doubt
    speed = Reading("speed_rpm", best.value, *as_it_is)
    for other, its in good:
        if other is not best and isinstance(other.value, float) and _differ(best, other):
            speed = doubtful(speed, f"{abs(best.value):.0f} r/min by {words}, {other.value:.0f} r/min by {its}")
    if edges is not None and best is not edges and Doubt.EDGE_MAY_BE_MISSING in edges.doubt:
        speed = doubtful(
            speed, MAYBE_LOST, Doubt.EDGE_MAY_BE_MISSING
        )  # with all of its edges the shaft might say something else
    return [speed, given("speed_source", words, doubt=speed.reason)]


def _differ(one: Reading, other: Reading) -> bool:
    assert isinstance(one.value, float)
    assert isinstance(other.value, float)
    apart = abs(abs(one.value) - abs(other.value))
    sure = [each.uncertainty.half for each in (one, other) if each.uncertainty is not None]
    share = _APART if len(sure) == 2 else _CHANGING
    return apart > max(share * max(abs(one.value), abs(other.value)), sum(sure))
