"""A line that never changes while the other two go round."""

import numpy as np

from server.verdict import Certainty, NextTest, Sign, Speaks, Verdict
from server.wiring.faults.fault import METER, TURNING
from server.wiring.grounds import Grounds
from server.wiring.lines import turns_of_two

PLAIN_TURNS, PROBABLE_TURNS = 2.0, 0.75  # electrical turns of the other two; three changes of them are 0.75
QUESTION = "Does every sensor switch?"


def stuck(grounds: Grounds) -> Verdict | None:
    """One input constant while the other two turn; or two of them, where the windings say that the shaft turns."""
    levels = grounds.visits.state[grounds.lines.stays]
    if not levels.size:
        return None
    never_high = ~np.bitwise_or.reduce(levels)
    always_high = np.bitwise_and.reduce(levels)
    still = [place for place in range(3) if (never_high | always_high) >> place & 1]
    if len(still) == 1:
        return _one(grounds, still[0])
    if len(still) == 2 and abs(grounds.swept_deg) >= 360.0 * PLAIN_TURNS:
        return _two(grounds, still)
    return None


def _one(grounds: Grounds, place: int) -> Verdict | None:
    one, other = (each for each in range(3) if each != place)
    turns = turns_of_two(grounds.visits, one, other)
    if turns < PROBABLE_TURNS:
        return None
    name, two = grounds.known.names.hall(place), grounds.known.names.several([one, other])
    high = bool(int(grounds.visits.state[grounds.lines.stays][-1]) >> place & 1)
    level = "high" if high else "low"
    if turns >= PLAIN_TURNS:
        seen = f"{name} stayed {level} through {int(turns)} electrical turns in which {two} moved."
    else:
        seen = f"{name} has not changed in {round(4 * turns)} changes of {two}."
    return Verdict(
        "hall_line_stuck",
        QUESTION,
        f"{name} stays {level}: the sensor, its magnet's gap, or its wire.",
        Certainty.PLAIN if turns >= PLAIN_TURNS else Certainty.PROBABLE,
        (Sign(Speaks.FOR, seen),),
        (_which(high), _REST),
        _unplug(name),
    )


def _two(grounds: Grounds, places: list[int]) -> Verdict:
    names = grounds.known.names.several(places)
    turns = int(abs(grounds.swept_deg) / 360.0)
    return Verdict(
        "hall_line_stuck",
        QUESTION,
        f"{names} never change.",
        Certainty.PLAIN,
        (Sign(Speaks.FOR, f"{names} stayed as they were through {turns} electrical turns by the windings' voltage."),),
        (_REST,),
        _unplug(names),
    )


_REST = "Order, timing, places and pole pairs can't be judged before that."


def _which(high: bool) -> str:
    broken = "a broken wire with a pull-up reads high" if high else "a wire that lies on ground reads low"
    return f"Sensor or wire can't be told from here: {broken}, and so does a dead sensor."


def _unplug(name: str) -> NextTest:
    return NextTest(
        f"Unplug the signal wire {name}: if the input goes to its pull-up's level, sensor or magnet; if it stays, board"
        " or cable.",
        f"{METER} {TURNING}",
    )
