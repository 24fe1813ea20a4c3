"""How the steps stand in which the shaft is turned by hand, or nothing turns at all. Pure."""

import numpy as np

from server.hall.supply import RATED_V, SHARE
from server.procedures.hall_records import Answers, Observation, State, StepStands
from server.verdict import Certainty, Speaks, Verdict
from server.wiring.alignment import alignment_of
from server.wiring.arrangement import HALL_NAMES, Arrangement
from server.wiring.faults import faults
from server.wiring.faults.polarity import polarity
from server.wiring.grounds import Grounds
from server.wiring.kinds import KINDS
from server.wiring.names import Names, names_before
from server.wiring.order import PLAIN, order_verdict
from server.wiring.timing import USABLE_DEG, timing_verdict
from server.wiring.torque import FITS, RIGHT
from server.wiring.trying import Showed, trying
from server.wiring.verdicts import HOLDS

SUPPLY_A = (0.003, 0.030)  # of three sensors, with some room: common practice, no published source
LIMIT_A = 0.050
ORDER_SECTORS, EDGES_EACH_WAY = 12, 40
SHORT_SECTORS, SHORT_STILL_S, SHORT_SHARE = 24, 1.5, 0.1
_NOTED = HOLDS | {"hall_polarity_mixed"}  # no fault of a line; the step Order speaks of the polarity
_NOTHING = StepStands(False, "No edge has come yet.", "turn the shaft")


def plate(state: State, seen: Observation) -> StepStands:
    """Whether each wire has a name of its own."""
    names = state.answers.names
    for what, three in (("Hall wires", names.halls), ("leads", names.phases)):
        if not all(three):
            return StepStands(False, "", f"a name for each of the three {what}")
        if len({name.casefold() for name in three}) < 3:
            return StepStands(False, f"Two of the {what} have the same name.", "three different names", odd=True)
    said = "; ".join(
        f"{what} {', '.join(three)}" for what, three in (("Hall wires", names.halls), ("leads", names.phases))
    )
    return StepStands(state.answered, f"{said}.", "" if state.answered else "that these are right")


def supply(state: State, seen: Observation) -> StepStands:
    """Voltage and current of the sensors' supply, as measured or as a person read them."""
    said = state.answers if state.answered else Answers()
    volts = seen.sensor_v if seen.sensor_v is not None else said.supply_v
    amps = seen.sensor_a if seen.sensor_a is not None else said.supply_a
    if volts is None or amps is None:
        return StepStands(False, "", "voltage and current of the sensor supply")
    rated_v = state.answers.rated_v or RATED_V
    read = f"{volts:z.2f} V, {1000.0 * amps:z.0f} mA"
    anyway = "Go on with this supply"
    if amps >= 0.9 * LIMIT_A:
        says = f"{read}: the current is at its limit. Off now: supply and ground are the wrong way round, or short."
        return StepStands(False, says, "a current of 3 to 30 mA", odd=True)
    if abs(volts - rated_v) > SHARE * rated_v:
        return StepStands(
            False, f"{read}, not {rated_v:g} V.", f"{rated_v:g} V within a tenth", offers=anyway, odd=True
        )
    if amps < SUPPLY_A[0]:
        return StepStands(False, f"{read}: no current. A wire or a connector is open.", "3 to 30 mA", odd=True)
    if amps > SUPPLY_A[1]:
        return StepStands(False, f"{read}: more than three sensors take.", "3 to 30 mA", offers=anyway, odd=True)
    return StepStands(True, f"{read}.")


def levels(state: State, seen: Observation) -> StepStands:
    """Whether each of the three inputs has been high and low."""
    if seen.grounds is None:
        return _NOTHING
    if (fault := _fault(seen.grounds)) is not None:
        return fault
    changes = seen.grounds.changes
    names = state.answers.names
    done = sum(count >= 2 for count in changes)
    missing = [names.hall(k) for k in range(3) if changes[k] < 2]
    if not missing:
        return StepStands(True, f"A, B and C changed {_and([str(count) for count in changes])} times.", done=3, of=3)
    still = [k for k in range(3) if not changes[k]]
    says = _levels(seen.grounds)
    if still and max(changes) >= 3:
        others = [HALL_NAMES[k] for k in range(3) if k not in still]
        says = f"{_and([names.hall(k) for k in still])} has not changed in {sum(changes)} changes of {_and(others)}."
        return StepStands(False, says, "its wire, its supply, its pull-up resistor", done, 3, odd=True)
    return StepStands(False, says, f"a change of {_and(missing)}", done, 3)


def order(state: State, seen: Observation) -> StepStands:
    """Whether the six states come in turn, two electrical turns one way."""
    if seen.grounds is None:
        return _NOTHING
    if (fault := _fault(seen.grounds)) is not None:
        return fault
    course = seen.grounds.course
    turned = max(one_way(seen.grounds))
    if course.odd is None:
        came = seen.grounds.edges.ticks.size
        says = f"{came} edge{'s' if came != 1 else ''}, not all states yet."
        return StepStands(False, says, "all six states in turn")
    if turned < ORDER_SECTORS:
        return StepStands(False, f"{turned} sectors one way.", "two electrical turns one way", turned, ORDER_SECTORS)
    if (mixed := polarity(seen.grounds)) is not None:
        name = _and([state.answers.names.hall(k) for k in range(3) if course.odd >> k & 1])
        missing = "what the drive is set to, and what the motor's sheet says of its sensors"
        offers = f"Go on, reading {name} inverted" if name else "Go on as for 120 degrees"
        return StepStands(False, mixed.answer, missing, turned, ORDER_SECTORS, offers, odd=True)
    says = f"Six states in order, {turned // 6} electrical turns one way; none that should not come."
    return StepStands(True, says, done=ORDER_SECTORS, of=ORDER_SECTORS)


def match(state: State, seen: Observation) -> StepStands:
    """Whether leads and Hall wires fit each other, by the leads' voltages or else by tries."""
    if not seen.probed:
        return tried(state)
    if seen.grounds is None:
        return _NOTHING
    judged = order_verdict(seen.grounds)
    verdict = judged.verdict
    done = min(seen.grounds.induced, PLAIN)
    if judged.fraction is None or verdict.certainty is not Certainty.PLAIN:
        missing = verdict.next_test.text if verdict.next_test else ""
        return StepStands(False, verdict.answer, missing, done, PLAIN)
    if not judged.mends or abs(judged.mends[0].fraction) < FITS:
        return StepStands(False, verdict.answer, "a clear fit", done, PLAIN, "Go on without a clear fit", odd=True)
    return StepStands(True, verdict.answer, done=PLAIN, of=PLAIN, odd=judged.mends[0].to.plugs > 0)


def tried(state: State) -> StepStands:
    """Without voltages of the leads: by what the tries so far showed."""
    known = trying(state.tries, names_at_first(state), state.answers.rated_a)
    verdict = known.verdict
    if verdict.certainty is Certainty.PLAIN:
        return StepStands(True, verdict.answer)
    if known.next_order is None:
        return StepStands(False, verdict.answer, "the tries once more (repeat)", odd=True)
    missing = f"a try with the leads {_leads(state, known.next_order)}"
    return StepStands(False, verdict.answer, missing, odd=bool(state.tries) and state.tries[-1].showed is Showed.STANDS)


def names_at_first(state: State) -> Names:
    """The names by the places that the leads had before the first try: orders of tries count from there."""
    if not state.tries:
        return state.answers.names
    return names_before(state.answers.names, Arrangement(phases=state.tries[-1].phases))


def timing(state: State, seen: Observation) -> StepStands:
    """How early or late edges come, from enough of them each way."""
    grounds = seen.grounds
    if grounds is None:
        return _NOTHING
    found = alignment_of(grounds)
    verdict = timing_verdict(grounds, found)
    ways = () if found is None else (found.ahead, found.back)
    edges = [0 if way is None else way.edges for way in ways]
    done = sum(min(count, EDGES_EACH_WAY) for count in edges)
    says = "" if verdict is None else f"{verdict.answer} {_timed(state, grounds, verdict)}"
    if done < 2 * EDGES_EACH_WAY:
        one_way = max(edges, default=0) >= EDGES_EACH_WAY
        offers = "Go on with one way only: placement and hysteresis stay together" if one_way else ""
        missing = f"{EDGES_EACH_WAY} edges each way, with voltage on the leads"
        return StepStands(False, says, missing, done, 2 * EDGES_EACH_WAY, offers)
    if verdict is None or verdict.key != "commutation_timed":
        missing = f"{USABLE_DEG:.0f} degrees or less: the drive's timing, or the sensors' place; then repeat"
        return StepStands(False, says, missing, done, 2 * EDGES_EACH_WAY, "Go on with this timing", odd=True)
    return StepStands(True, says, done=done, of=2 * EDGES_EACH_WAY)


def move(state: State, seen: Observation) -> StepStands:
    """Whether the wires fit once the plugs were moved."""
    if not state.moved:
        return StepStands(False, "", "the plugs moved as drawn")
    if seen.grounds is None:
        return _NOTHING
    judged = order_verdict(seen.grounds)
    done = min(seen.grounds.induced, PLAIN)
    if judged.fraction is None or judged.verdict.certainty is not Certainty.PLAIN:
        return StepStands(False, "Turn it forward by hand, as before.", "12 edges with voltage", done, PLAIN)
    size = abs(judged.fraction)
    if size >= RIGHT:
        way = "the way you turn it" if judged.fraction > 0 else "the other way round"
        return StepStands(True, f"Torque fraction {judged.fraction:+z.2f}: it will run {way}.", done=PLAIN, of=PLAIN)
    if size >= FITS:
        says = f"Torque fraction {judged.fraction:+z.2f}: the order is right, the timing is off by 20 degrees or more."
        return StepStands(False, says, "0.94 or more", PLAIN, PLAIN, "Go on with this timing", odd=True)
    return StepStands(False, judged.verdict.answer, "the plugs as drawn, or back to the match", PLAIN, PLAIN, odd=True)


def short_way(state: State, seen: Observation) -> StepStands:
    """Two turns forward and two back, all connected: whether all of it has come."""
    if seen.grounds is None:
        return _NOTHING
    ahead, back = one_way(seen.grounds)
    says = f"{ahead} sectors forward, {back} back."
    said = state.answers.pole_pairs
    two_turns = 2 * KINDS * said if said else SHORT_SECTORS
    least, most = (1.0 - SHORT_SHARE) * two_turns, (1.0 + SHORT_SHARE) * (two_turns if said else ahead)
    if max(back, ahead if said else 0) > max(most, SHORT_SECTORS):
        why = f"two turns of {said} pole pairs are {two_turns}" if said else "as many back as forward are wanted"
        offers = "Go on with what was turned" if back >= (1.0 - SHORT_SHARE) * ahead else ""
        missing = "two turns each way and no more: stop, then press Repeat"
        return StepStands(False, f"{says} Too many: {why}.", missing, offers=offers, odd=True)
    if back < max(least, (1.0 - SHORT_SHARE) * ahead):
        missing = "two turns forward" if ahead < least else "two turns back"
        done = min(ahead, two_turns) + min(back, two_turns)
        return StepStands(False, says, missing, done, 2 * two_turns)
    if seen.still_s < SHORT_STILL_S:
        return StepStands(False, says, "the shaft at rest", 2 * two_turns, 2 * two_turns)
    found = match(state, seen)
    if not found.passed:
        return StepStands(False, f"{says} {found.says}", found.missing, offers=found.offers, odd=found.odd)
    return StepStands(True, says, done=2 * two_turns, of=2 * two_turns)


def one_way(grounds: Grounds) -> tuple[int, int]:
    """Sectors turned in the sense in which it began, and back."""
    sense = grounds.course.sense
    moved = sense[sense != 0]
    if not moved.size:
        return 0, 0
    first = int(moved[0])
    return int(np.count_nonzero(moved == first)), int(np.count_nonzero(moved == -first))


def first_sense(grounds: Grounds) -> int:
    """The sense in which it was turned first."""
    moved = grounds.course.sense[grounds.course.sense != 0]
    return int(moved[0]) if moved.size else 0


def _fault(grounds: Grounds) -> StepStands | None:
    """What the signals themselves show to be wrong: a line that is stuck, joined, floating, without supply."""
    found, _ = faults(grounds)
    first = next((each for each in found if each.key not in HOLDS and each.certainty is not Certainty.OPEN), None)
    if first is None or not first.key.startswith("hall_") or first.key in _NOTED:
        return None
    test = "" if first.next_test is None else first.next_test.text
    return StepStands(False, first.answer, test, offers="Go on with this noted", odd=True)


def _timed(state: State, grounds: Grounds, verdict: Verdict) -> str:
    """What it stands on; and which way late and early are meant, where the shaft went farther backward."""
    stands_on = " ".join(sign.text for sign in verdict.signs if sign.speaks is Speaks.FOR)
    farther = 1 if int(grounds.course.sense.sum()) >= 0 else -1
    return f"{stands_on} Late and early are meant turning backward." if farther * state.forward < 0 else stands_on


def _levels(grounds: Grounds) -> str:
    if grounds.levels is None:
        return ""
    return (
        _and([f"{name} is {'high' if grounds.levels >> k & 1 else 'low'}" for k, name in enumerate(HALL_NAMES)]) + "."
    )


def _leads(state: State, order: tuple[int, int, int]) -> str:
    names = names_at_first(state)
    return ", ".join(f"{names.phase(wire)} on {'UVW'[place]}" for place, wire in enumerate(order))


def _and(words: list[str]) -> str:
    return " and ".join([", ".join(words[:-1]), words[-1]]) if len(words) > 1 else "".join(words)
