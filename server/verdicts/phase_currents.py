"""Do all phases take part? A lead that is off, a dead switch of the bridge.

Of the currents of the driven pair in the six sectors. A switch that never closes leaves two neighbouring sectors
without current; a lead that is off four. What the end of another drive leaves in them is no more than a fifth.
"""

from server.hall.table import DRIVEN
from server.quantities.commutation import SECTOR_CURRENTS
from server.readings import Confidence
from server.verdict import Certainty, NextTest, Sign, Speaks, Verdict
from server.verdicts.rule import AGREE, Held, Look, Rule, good_list, held

_DEAD = 0.25  # of the greatest sector: below it the pair is not driven (ours)
_SEEN = 0.03  # of the plate current, the greatest sector: below, nothing is said
_AGREE_DEAD = 2  # a sector without current is no scatter
_QUESTION = "Do all three phases take part?"
POWER_OFF = (
    "Power off, wait until the board reads below 1 V on the link, hold the shaft still. Slipring only watches; follow"
    " the rules of your bench."
)


def phase_verdict(look: Look) -> Verdict | None:
    """What this look alone says."""
    currents, names = good_list(look.readings.get(SECTOR_CURRENTS), 6), look.motor.phases
    plate_a = look.plate.current_a
    if currents is None or not plate_a:
        return None
    sizes = [abs(each) for each in currents]
    greatest = max(sizes)
    if greatest < _SEEN * plate_a:
        return None
    dead = frozenset(k for k, size in enumerate(sizes) if size < _DEAD * greatest)
    return _without_current(dead, sizes, sum(currents) < 0, names) if dead else None


def _without_current(dead: frozenset[int], sizes: list[float], reverse: bool, names: tuple[str, ...]) -> Verdict | None:
    told = ", ".join(f"{size:.1f}" for size in sizes)
    signs = (Sign(Speaks.FOR, f"Sectors 1 to 6 carry {told} A."),)
    for phase, name in enumerate(names):
        its = [frozenset(k for k, pair in enumerate(DRIVEN) if pair[side] == phase) for side in (0, 1)]
        if dead == its[0] | its[1]:
            answer = f"Phase {name} carries no current: its lead is off, or its winding or both its switches are open."
            test = NextTest(
                f"Look at the lead of {name}; then an ohmmeter between the leads: three equal values.", POWER_OFF
            )
            opens = ("Whether it is the lead, the winding or the drive these currents can't tell.",)
            return Verdict("phase_open", _QUESTION, answer, Certainty.PLAIN, signs, opens, test, name)
        for side, sectors in enumerate(its):
            if dead == sectors:
                switch = "upper" if (side == 0) != reverse else "lower"
                answer = f"The {switch} switch of phase {name} never closes; the other one does."
                test = NextTest(f"Check the drive's {switch} switch of {name} and what drives it.", POWER_OFF)
                return Verdict(
                    "bridge_leg_dead", _QUESTION, answer, Certainty.PLAIN, signs, (), test, f"{name} {switch}"
                )
    return None


def _step(state: Held | None, look: Look) -> tuple[Held | None, Verdict | None]:
    reading = look.readings.get(SECTOR_CURRENTS)
    if reading is None or reading.confidence is not Confidence.GOOD:
        return state, state.told if state else None  # no look: what was told stands, wires do not move by themselves
    seen = phase_verdict(look)
    state = held(state, seen, AGREE if seen is None else _AGREE_DEAD)
    return state, state.told


PHASE_CURRENTS = Rule("phase currents", _step)
