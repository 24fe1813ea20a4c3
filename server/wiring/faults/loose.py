"""Lines that tremble: no pull-up, a loose wire, a loose supply, a sensor on its edge. Told by when and how fast.

A line without a pull-up is restless while its sensor lets it go, so where it should be high; a loose wire with a
pull-up while the sensor pulls it low. What a line should be, the other two say in a third of the turn.
"""

from dataclasses import dataclass

import numpy as np

from server.verdict import Certainty, NextTest, Sign, Speaks, Verdict
from server.wiring.arrangement import STATES
from server.wiring.faults.fault import METER, TURNING
from server.wiring.grounds import Grounds
from server.wiring.lines import odd_by_time

LEVELS, LOOSE, EDGE = "Are the levels clean?", "Is a wire loose?", "Does a sensor stand on its edge?"
_MOST = 6  # returns of one line that are more than chance
_SHARE = 0.7  # of all returns: those of one line
_FAST_HZ = 4000.0  # changes a second within a burst: noise round a threshold; contacts that break are slower (ours)
_ONE_SIDED, _SIDED_MOST = 5.0, 10
_BURST = 5  # returns on end: a contact that bounces makes fewer (ours)


_ONE_STATE = ("From one state alone a break of the sensors' supply looks the same.",)


@dataclass(frozen=True, slots=True)
class Restless:
    """Of one line: `returns` within 20 ms, in so many `groups` with nothing between, `rate_hz` of changes meanwhile,
    changes where it `should_be_high` and `should_be_low` by the other two, `states` in which it trembled, as pairs of
    neighbours."""

    returns: int
    groups: int
    rate_hz: float
    should_be_high: int
    should_be_low: int
    states: int

    @property
    def floats(self) -> bool:
        """No pull-up, rather than a loose wire."""
        high, low = self.should_be_high, self.should_be_low
        return self.rate_hz > _FAST_HZ or (high >= _SIDED_MOST and high > _ONE_SIDED * low)


def restless(grounds: Grounds, place: int) -> Restless:
    """What a line did beside turning with the shaft."""
    lines, visits = grounds.lines, grounds.visits
    own = lines.trembles & (lines.single == place)
    odd = odd_by_time(visits, grounds.tick_hz)
    others = (visits.state ^ odd) & ~(1 << place) & (STATES - 1)
    changed = lines.single == place
    low_due = 0 if not odd >> place & 1 else 1  # levels as they come over the wire
    none_else, both_else = changed & (others == 0), changed & (others == (STATES - 1 & ~(1 << place)))
    high = int(np.count_nonzero(both_else if low_due else none_else))
    low = int(np.count_nonzero(none_else if low_due else both_else))
    busy_s = float(lines.lasted_s[lines.trembles & changed].sum())
    count = int(np.count_nonzero(own))
    groups = count and 1 + int(np.count_nonzero(np.diff(np.flatnonzero(own)) > 2))
    return Restless(count, groups, count / busy_s if busy_s else 0.0, high, low, int(np.unique(others[own]).size))


def floating(grounds: Grounds) -> Verdict | None:
    """A line, or all, that is no level at all while its sensor lets it go."""
    all_of_them = int(np.count_nonzero(grounds.lines.trembles))
    if all_of_them < 10 * _MOST:
        return None
    found = [(place, restless(grounds, place)) for place in range(3)]
    found = [(place, line) for place, line in found if line.returns >= max(_MOST, 0.1 * all_of_them)]
    alone = len(found) == 1  # of several none says what another should be
    if not any(line.floats if alone else line.rate_hz > _FAST_HZ for _, line in found):
        return None
    changes = grounds.changes
    places = [place for place in range(3) if changes[place] >= 0.1 * sum(changes)]
    names = grounds.known.names.several(places)
    span_s = (grounds.end_tick - int(grounds.edges.ticks[0])) / grounds.tick_hz
    signs = [
        Sign(Speaks.FOR, f"{grounds.known.names.hall(p)} changed {changes[p]} times in {span_s:.2g} s.") for p in places
    ]
    high, low = sum(line.should_be_high for _, line in found), sum(line.should_be_low for _, line in found)
    if alone and high + low:
        signs.append(Sign(Speaks.FOR, f"{high} changes came where it should be high, {low} where it should be low."))
    signs.append(Sign(Speaks.MISSING, "Its voltage: no clean high would show on a meter."))
    where = "missing on the board" if len(places) == 3 else "missing on this line, or the wire is open"
    return Verdict(
        "hall_line_floating",
        LEVELS,
        f"{names}: no clean high. Pull-up {where}?",
        Certainty.PROBABLE,
        tuple(signs),
        ("Order, timing, places and pole pairs can't be judged before that.", "A strong pick-up looks alike."),
        NextTest("Fit the pull-up (1 to 10 kilohms to the supply of the inputs) and look again.", METER),
    )


def loose(grounds: Grounds) -> Verdict | None:
    """What trembles: one wire that breaks, or a sensor that stands on its edge."""
    return intermittent(grounds) or chatter(grounds)


def loose_supply(grounds: Grounds) -> Verdict | None:
    """All lines go to one level for moments, two or three of them at once: supply or ground of the sensors breaks."""
    trembles = grounds.lines.trembles
    count = int(np.count_nonzero(trembles))
    if count < _MOST:
        return None
    state, before = grounds.visits.state[trembles], grounds.visits.before[trembles]
    for level, word in ((7, "high"), (0, "low")):
        from_it = np.where(state == level, before, np.where(before == level, state, -1))
        partners = np.bincount(from_it[from_it >= 0], minlength=STATES)
        several = [partner for partner in np.flatnonzero(partners) if bin(partner ^ level).count("1") > 1]
        if partners.sum() >= _SHARE * count and several:
            return _breaks(word, int(partners.sum()), int(np.count_nonzero(partners)))
    return None


def _states(count: int) -> str:
    return "one state, two of them at once" if count == 1 else f"{count} states"


def _breaks(word: str, times: int, states: int) -> Verdict:
    return Verdict(
        "hall_supply_intermittent",
        LOOSE,
        "The sensors' supply or ground breaks for moments.",
        Certainty.PROBABLE,
        (Sign(Speaks.FOR, f"All three lines went {word} for moments {times} times, from {_states(states)}."),),
        (),
        NextTest("Stand still and move connector by connector.", METER),
    )


def intermittent(grounds: Grounds) -> Verdict | None:
    """Bursts on one line, also where none of its edges is due."""
    for place, line in _restless_most(grounds):
        away = line.should_be_high + line.should_be_low
        if away < 2 and (line.states < 2 or line.returns < _BURST * line.groups):
            continue
        name = grounds.known.names.hall(place)
        rest = int(np.count_nonzero(grounds.lines.trembles)) - line.returns
        seen = f"{name} changed and came back {line.returns} times within 20 ms, other lines {rest} times."
        due = f"{away} of its changes came where the other two allow none."
        return Verdict(
            "hall_line_intermittent",
            LOOSE,
            f"The wire {name} is loose: it breaks in bursts.",
            Certainty.PLAIN if away >= _SIDED_MOST else Certainty.PROBABLE,
            (Sign(Speaks.FOR, seen), Sign(Speaks.FOR, due)),
            ("Connector, cable or the sensor's own joint.", *_ONE_STATE[: line.states == 1]),
            NextTest("Stand still and move connector by connector.", METER),
        )
    return None


def chatter(grounds: Grounds) -> Verdict | None:
    """A sensor that stands just on its edge, or whose edges bounce while the shaft turns."""
    for place, line in _restless_most(grounds):
        if line.should_be_high + line.should_be_low >= 2:
            continue
        name = grounds.known.names.hall(place)
        at_rest = line.states == 1
        answer = (
            f"{name} trembles on one edge: the shaft stands just there, which is no fault, or its wire is loose."
            if at_rest
            else f"Edges of {name} bounce: a contact, or too little hysteresis."
        )
        seen = f"{name} changed and came back {line.returns} times within 20 ms, only where an edge of it is due."
        test = (
            "Move the shaft a little: if it stops, the sensor stood on its edge."
            if at_rest
            else "Turn slowly past single edges and look again."
        )
        return Verdict(
            "hall_chatter",
            EDGE,
            answer,
            Certainty.PROBABLE,
            (Sign(Speaks.FOR, seen),),
            (),
            NextTest(test, TURNING),
        )
    return None


def _restless_most(grounds: Grounds) -> list[tuple[int, Restless]]:
    """The line that trembles, if there is just one."""
    every = [(place, restless(grounds, place)) for place in range(3)]
    place, most = max(every, key=lambda each: each[1].returns)
    total = sum(line.returns for _, line in every)
    return [(place, most)] if most.returns >= _MOST and most.returns >= _SHARE * total else []
