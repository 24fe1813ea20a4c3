"""Without the leads' voltages: which order of phase plugs fits, by trying under power. Pure.

Halls stay. Just one of six orders runs well; the two others of its parity run weakly the other way, those of the other
parity stand. So what stands asks for an exchange of any two plugs, what is weak for moving all three one place: at
most three changes. Standing alone proves nothing: a weak order may stand on a dead spot; a push tells. (Enumerated by
tests.)
"""

from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from server.verdict import Certainty, NextTest, Sign, Speaks, Verdict
from server.wiring.arrangement import AS_IT_IS, ORDERS, Arrangement, Order
from server.wiring.first_power import limit_words
from server.wiring.names import UNNAMED, Names, acts, names_after

QUESTION = "Which order of the phase plugs fits?"


def power(rated_a: float | None) -> str:
    """The caution before each try."""
    return (
        f"Propeller, blade, wheel, gear and belt off, motor clamped, hands away; 12 V, limit {limit_words(rated_a)};"
        " under 60 V DC, 2 s. Plugs are moved with everything off and the drive's capacitors empty (below 1 V)."
        " Slipring only watches: it can't switch anything off."
    )


def push(rated_a: float | None) -> str:
    """The caution before the push test."""
    return (
        f"12 V, limit {limit_words(rated_a)}; bare rotor, motor clamped; a wooden stick or a strap laid on the rotor,"
        " never a hand; one person at the switch. Whoever can't do it so skips it."
    )


class Showed(StrEnum):
    """What a try showed. `STANDS` without a push, `LOCKS`: pushed, it sprang back."""

    WELL = "well"
    REVERSE = "reverse"  # well, the way that was not wanted
    WEAK = "weak"
    STANDS = "stands"
    LOCKS = "locks"


class Try(NamedTuple):
    """`phases[k]`: the lead on output k, by the places that they had first."""

    phases: Order
    showed: Showed


@dataclass(frozen=True, slots=True)
class Trying:
    """`left`: orders that may still fit; `next_order`: to try next, None where one was found or nothing fits."""

    verdict: Verdict
    left: tuple[Order, ...]
    next_order: Order | None


def trying(tries: tuple[Try, ...], names: Names = UNNAMED, rated_a: float | None = None) -> Trying:
    """What the tries leave, and the next one; `rated_a`: of the motor, None where not known."""
    left = tuple(order for order in ORDERS if all(_may_fit(order, each) for each in tries))
    if tries and tries[-1].showed in (Showed.WELL, Showed.REVERSE) and tries[-1].phases in left:
        return Trying(_found(tries, rated_a), (tries[-1].phases,), None)
    if not left:
        return Trying(_contradiction(tries, rated_a), left, None)
    now = tries[-1].phases if tries else AS_IT_IS
    follow = min(left, key=lambda order: (_moves(now, order), order != AS_IT_IS, order))
    return Trying(_go_on(tries, left, follow, names, rated_a), left, follow)


def _parity(order: Order) -> int:
    return sum(order[i] > order[j] for i in range(3) for j in range(i + 1, 3)) % 2


def _may_fit(order: Order, tried: Try) -> bool:
    """Could this order be the one that runs well, after what another showed?"""
    same = _parity(order) == _parity(tried.phases)
    match tried.showed:
        case Showed.WELL | Showed.REVERSE:
            return order == tried.phases
        case Showed.WEAK:
            return same and order != tried.phases
        case Showed.LOCKS:
            return not same
        case Showed.STANDS:  # locked, or weak on a dead spot
            return order != tried.phases


def _moves(now: Order, then: Order) -> int:
    return sum(one != other for one, other in zip(now, then, strict=True))


def _signs(tries: tuple[Try, ...]) -> tuple[Sign, ...]:
    return tuple(Sign(Speaks.FOR, f"Leads {_said(each.phases)} on U V W: {_SAID[each.showed]}.") for each in tries)


def _said(order: Order) -> str:
    return " ".join("UVW"[lead] for lead in order)


_SAID = {
    Showed.WELL: "runs well",
    Showed.REVERSE: "runs well, the other way round",
    Showed.WEAK: "runs weakly at high current",
    Showed.STANDS: "stands",
    Showed.LOCKS: "stands, and springs back when pushed",
}


def _found(tries: tuple[Try, ...], rated_a: float | None) -> Verdict:
    last = tries[-1]
    opens: tuple[str, ...] = ()
    answer = f"Found: leads {_said(last.phases)} on U V W."
    if last.showed is Showed.REVERSE:
        answer += " It runs the other way round: change the drive's direction setting."
        opens = ("Without such a setting two Hall wires and the matching two phase plugs must be exchanged.",)
    test = NextTest("Six starts, one from each sector; then load, both ways.", power(rated_a))
    return Verdict("commutation_tried", QUESTION, answer, Certainty.PLAIN, _signs(tries), opens, test)


def _contradiction(tries: tuple[Try, ...], rated_a: float | None) -> Verdict:
    return Verdict(
        "commutation_tried",
        QUESTION,
        "Can't tell: no order of three plugs shows all that was noted.",
        Certainty.OPEN,
        _signs(tries),
        ("One of the notes is wrong, a Hall signal is dead or inverted, or the motor is jammed.",),
        NextTest("Turn by hand and look at the Hall signals; then begin the tries anew.", power(rated_a)),
    )


def _go_on(
    tries: tuple[Try, ...], left: tuple[Order, ...], follow: Order, names: Names, rated_a: float | None
) -> Verdict:
    if not tries:
        return _verdict("Nothing has been tried.", tries, left, NextTest("Try it as it is plugged.", power(rated_a)))
    now = tries[-1].phases
    here = tuple(now.index(lead) for lead in follow)  # on each output, the plug by the place that it has now
    move = " ".join(acts(Arrangement(phases=(here[0], here[1], here[2])), names_after(names, Arrangement(phases=now))))
    if tries[-1].showed is Showed.STANDS:
        text = (
            "Off. Does it turn freely by hand? If not, it is jammed and no plug is wrong. If it does, the push test:"
            f" pulled one way everywhere is weak, springing back is the wrong order. Or the next try: {move}"
        )
        return _verdict(
            "It stands: the wrong order, a dead spot, or jammed.",
            tries,
            left,
            NextTest(text, f"{push(rated_a)} {power(rated_a)}"),
        )
    return _verdict(f"{len(left)} orders are left.", tries, left, NextTest(move, power(rated_a)))


def _verdict(answer: str, tries: tuple[Try, ...], left: tuple[Order, ...], test: NextTest) -> Verdict:
    opens = (f"May still fit, as leads on U V W: {', '.join(_said(order) for order in left)}.",)
    return Verdict("commutation_tried", QUESTION, answer, Certainty.OPEN, _signs(tries), opens, test)
