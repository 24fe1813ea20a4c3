"""Would it run, and which plugs to move: the verdict on the order of wires. Pure.

Limits by enumeration and by trial on modelled motors turned by hand: from 12 edges on a class is plain, from 6 to 11
probable, below that nothing is said (ours).
"""

from dataclasses import dataclass, replace

import numpy as np

from server.verdict import Certainty, NextTest, Sign, Speaks, Verdict
from server.wiring.arrangement import AS_IT_STANDS, HALL_NAMES, ORDERS, Arrangement
from server.wiring.faults.fault import TURNING
from server.wiring.first_power import limit_words
from server.wiring.grounds import Grounds
from server.wiring.names import acts
from server.wiring.torque import FITS, Mend, Runs, fraction, mends, runs

PLAIN, PROBABLE = 12, 6  # edges
APART = 0.15  # of |F|: from the next best order of the leads; less only where that runs the other way round
QUESTION = "Would it run as it is wired?"
MOVE = (
    "Everything off and the drive's capacitors empty (below 1 V) before a plug is moved. Slipring only watches: it"
    " can't switch anything off."
)
SAME_LEADS = (
    "The board's voltage leads on one another's outputs look the same: check each lead against its plug before plugs"
    " are moved."
)
AGAINST = "opposite to the way you turned it"
WANTED = "Should it run the way you turned it? "
ONE_SPEED = (
    "At one speed a drive that does not chop makes voltages like those of the windings: unplug it, or turn faster and"
    " slower."
)


@dataclass(frozen=True, slots=True)
class Judged:
    """The verdict, and what its drawing needs: the arrangement as it is for the drive, its torque fraction (None: not
    known), and the ways to mend it, best first (the first one, if it moves no plug: it may stay)."""

    verdict: Verdict
    now: Arrangement = AS_IT_STANDS
    fraction: float | None = None
    mends: tuple[Mend, ...] = ()


def order_verdict(grounds: Grounds) -> Judged:
    """What the drive would make of the wires as they are."""
    course = grounds.course
    if course.odd is None and grounds.visits.count >= PLAIN:
        seen = " ".join(str(state) for state in range(8) if course.seen >> state & 1)
        return Judged(_open(f"states {seen} came", "the states are not those of three sensors", _turn_further(grounds)))
    if course.odd is None or course.edges < PROBABLE:
        return Judged(_open(f"{course.edges} edges so far", "not enough movement", _turn_further(grounds)))
    if not grounds.probed:
        return Judged(_from_halls_alone(grounds))
    if grounds.follows is not None and grounds.follows.driven:
        seen = "the voltages do not follow the speed"
        return Judged(_open(seen, "the voltages are those of a drive", "Unplug the drive and turn by hand."))
    if grounds.induced < PROBABLE and grounds.driven_s > 0.5 * grounds.lasted_s:
        seen = f"it was driven for {grounds.driven_s:.1f} of {grounds.lasted_s:.1f} s"
        return Judged(_open(seen, "the voltages are those of a drive", "Unplug the drive and turn by hand."))
    if grounds.induced < PROBABLE and grounds.most_v >= grounds.least_v:
        seen = f"{grounds.induced} edges came while the windings made voltage enough"
        return Judged(_open(seen, "too few edges with voltage", _turn_further(grounds)))
    if grounds.induced < PROBABLE:
        seen = f"the windings made {grounds.most_v:.2g} V at most, {grounds.least_v:.2g} V are needed"
        return Judged(
            _open(seen, "too slow to see the windings", "Turn faster, or with a cordless driver on the shaft.")
        )
    return _from_voltages(grounds)


def order_after(fault: Verdict) -> Judged:
    """Nothing is said of the order before a fault is mended."""
    sign = Sign(Speaks.MISSING, f"First: {fault.answer}")
    return Judged(
        Verdict(
            "commutation_unknown",
            QUESTION,
            "Can't tell yet: something else comes first.",
            Certainty.OPEN,
            (sign,),
            (),
            fault.next_test or NextTest("Mend that first, then turn by hand again.", TURNING),
        )
    )


def _from_voltages(grounds: Grounds) -> Judged:
    odd = grounds.course.odd or 0
    readable = odd == (0 if grounds.known.spacing_deg == 120 else 2)  # by the drive's table as it is
    now = Arrangement(inverted=0 if readable else odd, spacing_deg=grounds.known.spacing_deg if readable else 120)
    found = grounds.fractions(now.spacing_deg)
    size = fraction(found, now)
    fit = mends(found, now.inverted, now.spacing_deg)
    ways = tuple(_useful(fit))
    certainty = Certainty.PLAIN if grounds.induced >= PLAIN else Certainty.PROBABLE
    signs = [Sign(Speaks.FOR, f"Torque fraction {size:z.2f} from {grounds.induced} edges with voltage.")]
    two = _other_sense(found, now)
    best, second = _greatest(found, now)
    if not ways or (two is None and second > best - APART):
        return Judged(_unclear(grounds, found, now), now, size)
    key, answer = _said(grounds, size, ways, now)
    if runs(size) is Runs.MISTIMED and two is not None:
        signs.append(Sign(Speaks.AGAINST, f"{_order(two)} fits as well, the other way round: timing near 30 degrees."))
    test = (
        NextTest("Turn further: 12 edges settle it.", TURNING)
        if certainty is Certainty.PROBABLE
        else _after(ways, grounds.known.rated_a)
    )
    opens = _opens(grounds, ways)
    if not readable:
        answer = f"Where the drive is set to sensors 120 degrees apart, {answer[0].lower()}{answer[1:]}"
        answer += _by_the_other_table(grounds) if odd == 2 else ""
    if key == "commutation_reverse" or (size < 0 and not ways[0].to.plugs):
        opens += _turned_round(fit, size, grounds, "" if key == "commutation_reverse" else WANTED)
    return Judged(
        Verdict(key, QUESTION, _probably(answer, grounds, certainty), certainty, tuple(signs), opens, test),
        now,
        size,
        ways,
    )


def _useful(ways: list[Mend]) -> list[Mend]:
    """Those of fewest plugs, and those of the same number."""
    return [way for way in ways if way.to.plugs == ways[0].to.plugs]


def _said(grounds: Grounds, size: float, ways: tuple[Mend, ...], now: Arrangement) -> tuple[str, str]:
    read = "" if not now.inverted else f" once {_inputs(now.inverted)} is read inverted"
    if ways[0].to.plugs == 0:
        forward = grounds.known.turned_forward  # where it was not said, a hand that went the other way is no fault
        timing = ", but its timing is off by 20 degrees or more" if runs(size) is Runs.MISTIMED else ""
        key = "commutation_reverse" if forward is (size < 0) else "commutation_good"
        way = "the way you turned it" if size > 0 else "the other way round"
        if size < 0 and key == "commutation_good":
            way = AGAINST
        return key, f"The order is right{read}{timing}: it will run {way}."
    moves = " Or: ".join(" ".join(acts(way.to, grounds.known.names)) + _way(way) for way in ways)
    it = f"Even with {_inputs(now.inverted)} read inverted it" if now.inverted else "It"
    if ways[0].to.plugs == 3:  # by what mends it, which timing does not change
        said = f"{it} would run weakly, the wrong way, at high current. One exchange won't mend it: {moves}"
        return "commutation_weak", said
    return "commutation_locks", f"{it} would not turn. {moves}"


def _way(mend: Mend) -> str:
    return " Then it runs the way you turned it." if mend.fraction > 0 else " Then it runs the other way round."


def _probably(answer: str, grounds: Grounds, certainty: Certainty) -> str:
    return answer if certainty is Certainty.PLAIN else f"Probably, from {grounds.induced} edges: {answer}"


def _opens(grounds: Grounds, ways: tuple[Mend, ...]) -> tuple[str, ...]:
    opens = [SAME_LEADS]
    if len(ways) > 1:
        both = len({way.fraction > 0 for way in ways}) > 1
        differ = " They differ in the direction." if both else ""
        opens.append(f"Which of these wires were moved can't be told: each way mends it.{differ}")
    if grounds.follows is None:
        opens.append(ONE_SPEED)
    if grounds.known.turned_forward is None:
        opens.append("Which way is forward has not been said: directions are those of your hand.")
    return tuple(opens)


def _turned_round(fit: list[Mend], size: float, grounds: Grounds, where: str) -> tuple[str, ...]:
    """How to have it run the other way by plugs alone: of both cables two, which match each other. `where`: in which
    case that is wanted."""
    other = next((way for way in fit if way.fraction * size < 0.0), None)
    if other is None:
        return ()
    moves = " ".join(acts(other.to, grounds.known.names))
    said = f"The drive's setting of direction turns it round. Where there is none, both of these: {moves}"
    return (f"{where}{said}",)


def _by_the_other_table(grounds: Grounds) -> str:
    """What reads as an inverted input may be sensors 60 degrees apart, of which a drive may have the table."""
    found = grounds.fractions(60)
    size = fraction(found, Arrangement(spacing_deg=60))
    if abs(size) >= FITS:
        way = "the other way round" if size < 0 else "the way you turned it"
        return f" Where it is set to 60, it will run {way} as it is wired: no plug is moved then."
    ways = _useful(mends(found, 0, 60))
    moves = " Or: ".join(" ".join(acts(each.to, grounds.known.names)) + _way(each) for each in ways)
    return f" Where it is set to 60: {moves}" if moves else ""


def _after(ways: tuple[Mend, ...], rated_a: float | None) -> NextTest:
    if ways[0].to.plugs:
        return NextTest(
            "Check each voltage lead of the board against its plug. Then move the plugs and turn by hand again: the"
            " fraction should be 0.94 or more.",
            MOVE,
        )
    return NextTest(
        f"First power: 12 V, limit {limit_words(rated_a)}; for 2 s, and stop if it jumps or hums.",
        "Propeller, wheel and belt off, motor clamped, hands away; under 60 V DC. Slipring only watches.",
    )


def _greatest(found: np.ndarray, now: Arrangement) -> tuple[float, float]:
    """The two greatest |F| of the six orders of the leads."""
    row = np.sort(np.abs(found[ORDERS.index(now.halls), now.inverted]))
    return float(row[-1]), float(row[-2])


def _other_sense(found: np.ndarray, now: Arrangement) -> Arrangement | None:
    """The order of leads that fits about as well and runs the other way: edges half a sector off."""
    row = found[ORDERS.index(now.halls), now.inverted]
    first, second = np.argsort(-np.abs(row))[:2]
    if abs(row[second]) >= FITS and row[first] * row[second] < 0:
        return now._replace(phases=ORDERS[second])
    return None


def _order(arrangement: Arrangement) -> str:
    return " ".join("UVW"[k] for k in arrangement.phases)


def _inputs(mask: int) -> str:
    return " and ".join(name for bit, name in enumerate(HALL_NAMES) if mask >> bit & 1)


def _unclear(grounds: Grounds, found: np.ndarray, now: Arrangement) -> Verdict:
    best, second = _greatest(found, now)
    seen = f"the best order of the leads fits by {best:.2f}, the next by {second:.2f}"
    verdict = _open(
        seen, "no order of the leads fits clearly", "Check that all three leads are probed, then turn again."
    )
    return replace(verdict, open=(SAME_LEADS,))


def _turn_further(grounds: Grounds) -> str:
    pairs = grounds.known.pole_pairs
    part = f" (2/{pairs} of a turn of the shaft)" if pairs and pairs > 2 else ""
    return f"Turn the shaft two electrical turns{part} or more, one way."


def _from_halls_alone(grounds: Grounds) -> Verdict:
    turned = grounds.course.turned
    signs = [Sign(Speaks.FOR, f"{grounds.course.edges} edges, {abs(turned)} sectors one way.")]
    answer = "The order can't be judged from the Hall signals alone: six wirings look the same."
    if grounds.known.turned_forward is not None:
        ahead = (turned > 0) == grounds.known.turned_forward
        answer = (
            "The Hall states come forward when it is turned forward; three orders of the Hall wires do that, and each"
            " with all sensors inverted."
            if ahead
            else "The Hall states come backward when it is turned forward: two Hall wires are exchanged, or it was"
            " turned the other way."
        )
    test = NextTest(
        "Put the board's voltage leads on U, V and W and turn by hand; or try under power, 12 V, limit"
        f" {limit_words(grounds.known.rated_a)}.",
        TURNING,
    )
    return Verdict("commutation_unknown", QUESTION, answer, Certainty.OPEN, tuple(signs), (), test)


def _open(seen: str, why: str, test: str) -> Verdict:
    sign = Sign(Speaks.MISSING, f"{seen[0].upper()}{seen[1:]}.")
    return Verdict(
        "commutation_unknown", QUESTION, f"Can't tell yet: {why}.", Certainty.OPEN, (sign,), (), NextTest(test, TURNING)
    )
