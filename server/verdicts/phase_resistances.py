"""Have all phases the same resistance? Only under load: without, sensors out of place make the same difference."""

from dataclasses import dataclass

from server.quantities.commutation import MORE, SECTOR_CURRENTS
from server.verdict import Certainty, NextTest, Sign, Speaks, Verdict
from server.verdicts.phase_currents import POWER_OFF
from server.verdicts.rule import Held, Look, Rule, good_list, held

_LOADED = 0.3  # of the plate current, the mean of the sectors: from there on resistances are compared
_MORE = 5.0  # per cent by the estimate, which reads some 10 where there are 20 (ours, by trial on modelled motors)
_LESS = 0.85  # of that, at most, that another phase may seem to lack: sensors out of place make as much less as more
_LAST = 3  # looks that are averaged
_QUESTION = "Have all phases the same resistance?"


@dataclass(frozen=True, slots=True)
class Seen:
    """The estimates of the last looks, per cent of U V W."""

    last: tuple[tuple[float, ...], ...] = ()
    held: Held | None = None


def _step(state: Seen | None, look: Look) -> tuple[Seen, Verdict | None]:
    state = state or Seen()
    more, currents = good_list(look.readings.get(MORE), 3), good_list(look.readings.get(SECTOR_CURRENTS), 6)
    if more is not None and currents is not None and look.plate.current_a:
        if abs(sum(currents)) / 6.0 < _LOADED * look.plate.current_a:
            return state, state.held.told if state.held else None
        last = (*state.last, tuple(more))[-_LAST:]
        verdict = _verdict(last, look) if len(last) == _LAST else None
        state = Seen(last, held(state.held, verdict))
    return state, state.held.told if state.held else None


def _verdict(last: tuple[tuple[float, ...], ...], look: Look) -> Verdict | None:
    means = [sum(each) / len(last) for each in zip(*last, strict=True)]
    most = max(means)
    if most < _MORE or -min(means) > _LESS * most:
        return None
    name = look.motor.phases[means.index(most)]
    told = ", ".join(f"{phase} {mean:+.0f} %" for phase, mean in zip(look.motor.phases, means, strict=True))
    signs = (Sign(Speaks.FOR, f"By the currents of the pairs and how they rise: {told} against the other two."),)
    answer = f"Phase {name} has more resistance than the others: a tenth of it or more."
    test = NextTest(f"Look for a warm plug or screw at {name} after a run; then an ohmmeter between leads.", POWER_OFF)
    opens = (
        "Whether it is the winding, a contact or the drive's switch these figures can't tell.",
        "A drive that holds the current hides it: the figure is a lower bound.",
    )
    return Verdict("phase_resistance", _QUESTION, answer, Certainty.PLAIN, signs, opens, test, name)


PHASE_RESISTANCES = Rule("phase resistances", _step)
