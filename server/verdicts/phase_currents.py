"""Do all phases take part? A lead that is off, a dead switch of the bridge.

A lead that is off carries nothing, ever, and the other two then carry the same to and fro: where three channels read
and their sum is not near nothing, it is the channel that is dead. Two channels alone can't tell.
A switch that never closes leaves the two neighbouring sectors without current in which it would be used; the ends of
other drives leave a little in them.
"""

from server.hall.table import DRIVEN
from server.quantities.commutation import RECTIFIED, SECTOR_CURRENTS, SUM
from server.readings import Confidence
from server.verdict import Certainty, NextTest, Sign, Speaks, Verdict
from server.verdicts.rule import AGREE, Held, Look, Rule, good_list, held

_DEAD = 0.25  # of the greatest sector: below it the pair is not driven (ours)
_LOST = 0.1  # of the greatest phase: a lead that is off carries nothing, its channel some noise (ours)
_APART = 0.4  # of the greatest phase, their sum: a dead channel leaves all of it, noise and gains a little (ours)
_SEEN = 0.03  # of the plate current, the greatest phase: below, nothing is said
_AGREE_DEAD = 2  # a sector without current is no scatter
_QUESTION = "Do all three phases take part?"
CHANNELS_TOO = "An error of the current channels can look the same."
POWER_OFF = (
    "Power off, wait until the board reads below 1 V on the link, hold the shaft still. Slipring only watches; follow"
    " the rules of your bench."
)


def phase_verdict(look: Look) -> Verdict | None:
    """What this look alone says."""
    currents = good_list(look.readings.get(SECTOR_CURRENTS), 6)
    phases = good_list(look.readings.get(RECTIFIED), 3)
    if currents is None or phases is None or not look.plate.current_a:
        return None
    if max(phases) < _SEEN * look.plate.current_a:
        return None
    lost = [k for k, size in enumerate(phases) if size < _LOST * max(phases)]
    if len(lost) == 1:
        return _nothing_in(lost[0], phases, look)
    greatest = max(map(abs, currents))
    dead = frozenset(k for k, current in enumerate(currents) if abs(current) < _DEAD * greatest)
    return _switch(dead, currents, look) if dead else None


def _nothing_in(phase: int, sizes: list[float], look: Look) -> Verdict:
    """The lead is off, or its channel is dead."""
    told = ", ".join(f"{each} {size:.2f} A" for each, size in zip(look.motor.phases, sizes, strict=True))
    sign = Sign(Speaks.FOR, f"Currents of the phases, rectified means: {told}.")
    total = look.readings.get(SUM)
    if total is None or not isinstance(total.value, float):
        return _open(phase, sign, None, look)
    if total.value > _APART * max(sizes):
        return _dead_channel(phase, sign, total.value, look)
    return _open(phase, sign, total.value, look)


def _open(phase: int, sign: Sign, total_a: float | None, look: Look) -> Verdict:
    """`total_a`: the rectified sum of the three, None where only two are measured."""
    name = look.motor.phases[phase]
    answer = f"Phase {name} carries no current: its lead is off, or its winding or both its switches are open."
    test = NextTest(f"Look at the lead of {name}; then an ohmmeter between the leads: three equal values.", POWER_OFF)
    opens = ["Whether it is the lead, the winding or the drive these currents can't tell."]
    if total_a is None:
        signs, certainty = (sign, Sign(Speaks.MISSING, "A third current channel.")), Certainty.PROBABLE
        opens.append(f"A dead current channel of {name}, or an error of those it is made of, looks the same.")
    else:
        others = Sign(Speaks.FOR, f"The other two are equal and opposite: the sum of all is {total_a:.2f} A.")
        signs, certainty = (sign, others), Certainty.PLAIN
    return Verdict("phase_open", _QUESTION, answer, certainty, signs, tuple(opens), test, name)


def _dead_channel(phase: int, sign: Sign, total_a: float, look: Look) -> Verdict:
    name = look.motor.phases[phase]
    answer = (
        f"The current channel of {name} reads nothing while the other two don't add up to nothing: the channel or its"
        " sensor."
    )
    test = NextTest(f"Look at the current sensor of {name}, its plug and whether the lead goes through it.", POWER_OFF)
    signs = (sign, Sign(Speaks.FOR, f"The sum of all three is {total_a:.2f} A: what {name} must carry."))
    opens = (f"How much {name} carries. All that is worked out from the three currents is wrong until then.",)
    return Verdict("current_channel_dead", _QUESTION, answer, Certainty.PLAIN, signs, opens, test, name)


def _switch(dead: frozenset[int], currents: list[float], look: Look) -> Verdict | None:
    """Sectors without current are those of one switch, or nothing is said."""
    reverse = sum(currents) < 0
    for phase, name in enumerate(look.motor.phases):
        for side in (0, 1):
            if dead == frozenset(k for k, pair in enumerate(DRIVEN) if pair[side] == phase):
                switch = "upper" if (side == 0) != reverse else "lower"
                told = ", ".join(f"{abs(each):.1f}" for each in currents)
                sign = Sign(Speaks.FOR, f"Sectors 1 to 6 carry {told} A; all phases carry some.")
                answer = f"The {switch} switch of phase {name} never closes; the other one does."
                test = NextTest(f"Check the drive's {switch} switch of {name} and what drives it.", POWER_OFF)
                return Verdict(
                    *("bridge_leg_dead", _QUESTION, answer, Certainty.PLAIN, (sign,), (CHANNELS_TOO,), test),
                    about=f"{name} {switch}",
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
