"""Do all phases take part? A lead that is off, a dead switch of the bridge, a phase with more resistance.

Of the currents of the driven pair in the six sectors. A switch that never closes leaves two neighbouring sectors
without current; a lead that is off four; more resistance lowers those four a little, as long as the drive does not hold
the current. What a sensor out of place does to them fades with the load, so small differences count under load alone.
"""

from math import isfinite

from server.hall.table import DRIVEN
from server.quantities.commutation import SECTOR_CURRENTS, WIDTHS
from server.readings import Confidence, Reading
from server.verdict import Certainty, NextTest, Sign, Speaks, Verdict
from server.verdicts.rule import AGREE, Held, Look, Rule, held

_DEAD = 0.15  # of the greatest sector: below it the pair is not driven (ours; an open lead leaves up to 0.09 by diodes)
_SEEN = 0.03  # of the plate current, the greatest sector: below, nothing is said
_MORE, _ALIKE = 0.06, 0.04  # relative: what the other pair carries more; how far the two pairs of a phase may differ
_LOADED = 0.25  # of the plate current: from there on resistances are compared
_WIDTH_DEG = 6.0  # a sector that far from 60 makes currents differ by itself
_AGREE_DEAD = 2  # a sector without current is no scatter
_MORE_OHM = "phase_resistance"
_QUESTION = "Do all three phases take part?"
_OFF = (
    "Power off, wait until the board reads below 1 V on the link, hold the shaft still. Slipring only watches; follow"
    " the rules of your bench."
)


def phase_verdict(look: Look) -> Verdict | None:
    """What this look alone says."""
    currents, names = _list(look.readings.get(SECTOR_CURRENTS)), look.motor.phases
    plate_a = look.plate.current_a
    if currents is None or not plate_a:
        return None
    sizes = [abs(each) for each in currents]
    greatest = max(sizes)
    if greatest < _SEEN * plate_a:
        return None
    dead = frozenset(k for k, size in enumerate(sizes) if size < _DEAD * greatest)
    if dead:
        return _without_current(dead, sizes, sum(currents) < 0, names)
    return _resistance(currents, look)


def _without_current(dead: frozenset[int], sizes: list[float], reverse: bool, names: tuple[str, ...]) -> Verdict | None:
    told = ", ".join(f"{size:.1f}" for size in sizes)
    signs = (Sign(Speaks.FOR, f"Sectors 1 to 6 carry {told} A."),)
    for phase, name in enumerate(names):
        its = [frozenset(k for k, pair in enumerate(DRIVEN) if pair[side] == phase) for side in (0, 1)]
        if dead == its[0] | its[1]:
            answer = f"Phase {name} carries no current: its lead is off, or its winding or both its switches are open."
            test = NextTest(
                f"Look at the lead of {name}; then an ohmmeter between the leads: three equal values.", _OFF
            )
            opens = ("Whether it is the lead, the winding or the drive these currents can't tell.",)
            return Verdict("phase_open", _QUESTION, answer, Certainty.PLAIN, signs, opens, test, name)
        for side, sectors in enumerate(its):
            if dead == sectors:
                switch = "upper" if (side == 0) != reverse else "lower"
                answer = f"The {switch} switch of phase {name} never closes; the other one does."
                test = NextTest(f"Check the drive's {switch} switch of {name} and what drives it.", _OFF)
                return Verdict(
                    "bridge_leg_dead", _QUESTION, answer, Certainty.PLAIN, signs, (), test, f"{name} {switch}"
                )
    return None


def _resistance(currents: list[float], look: Look) -> Verdict | None:
    pairs = [abs(currents[k] + currents[k + 3]) / 2.0 for k in range(3)]  # UV, UW, VW: both ways round
    if sum(pairs) / 3.0 < _LOADED * (look.plate.current_a or 0.0):
        return None
    widths = _list(look.readings.get(WIDTHS))
    if widths is None or max(abs(width - 60.0) for width in widths) > _WIDTH_DEG:
        return None
    without = max(range(3), key=lambda k: pairs[k])
    phase = 2 - without  # VW is the one without U, UW that without V
    with_it = [pairs[k] for k in range(3) if k != without]
    mean = sum(with_it) / 2.0
    more = pairs[without] / mean - 1.0
    if more < _MORE or max(with_it) - min(with_it) > _ALIKE * mean:
        return None
    name = look.motor.phases[phase]
    others = [each for each in look.motor.phases if each != name]
    signs = (
        Sign(
            Speaks.FOR,
            f"{others[0]} and {others[1]} together carry {pairs[without]:.2f} A, with {name} it is {mean:.2f} A.",
        ),
        Sign(Speaks.AGAINST, f"Sectors are {min(widths):.0f} to {max(widths):.0f} degrees wide: no sensor makes that."),
    )
    answer = f"Phase {name} has some {200.0 * more:.0f} % more resistance than the others."
    test = NextTest(f"Feel for a warm plug or screw of {name} after a run; then an ohmmeter between the leads.", _OFF)
    opens = ("A drive that holds the current hides this: the figure is a lower bound.",)
    return Verdict(_MORE_OHM, _QUESTION, answer, Certainty.PLAIN, signs, opens, test, name)


def _list(reading: Reading | None) -> list[float] | None:
    if reading is None or reading.confidence is not Confidence.GOOD or not isinstance(reading.value, tuple):
        return None
    values = list(reading.value)
    return values if len(values) == 6 and all(map(isfinite, values)) else None


def _step(state: Held | None, look: Look) -> tuple[Held | None, Verdict | None]:
    reading = look.readings.get(SECTOR_CURRENTS)
    if reading is None or reading.confidence is not Confidence.GOOD:
        return state, state.told if state else None  # no look: what was told stands, wires do not move by themselves
    seen = phase_verdict(look)
    state = held(state, seen, _AGREE_DEAD if seen is not None and seen.key != _MORE_OHM else AGREE)
    return state, state.told


PHASE_CURRENTS = Rule("phase currents", _step)
