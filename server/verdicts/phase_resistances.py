"""Have all phases the same resistance? Only under load: without, sensors out of place make the same difference."""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median
from typing import TypeAlias

from server.quantities.commutation import LATE, MORE, SECTOR_CURRENTS
from server.verdict import Certainty, NextTest, Sign, Speaks, Verdict
from server.verdicts.phase_currents import CHANNELS_TOO, POWER_OFF
from server.verdicts.rule import Held, Look, Rule, good_list, held

_LOADED = 0.3  # of the plate current, the mean of the sectors: from there on resistances are compared
_MORE = 8.0  # per cent by the estimate, which reads some 10 where there are 20 (ours, by trial on modelled motors)
_RISEN = 4.0  # per cent more than before in this run, at the same current: what the motor always shows drops out
_LESS, _LESS_RISEN = (
    0.6,
    0.85,
)  # of that, at most, that another phase may seem to lack: sensors make as much less as more
_LAST, _BEFORE, _ALIKE = 3, 30, 5  # looks whose middle counts; sound ones remembered, and wanted at the same current
_LATE_DEG = 12.0
_SAME = 0.2  # of the current, by which a look of before may differ
_QUESTION = "Have all phases the same resistance?"
Percent: TypeAlias = tuple[float, ...]


@dataclass(frozen=True, slots=True)
class ResistanceHistory:
    """`last`: mean current of the sectors and estimates for U V W of the last looks; `before`: those of sound ones."""

    last: tuple[tuple[float, Percent], ...] = ()
    before: tuple[tuple[float, Percent], ...] = ()
    held: Held | None = None


def _step(state: ResistanceHistory | None, look: Look) -> tuple[ResistanceHistory, Verdict | None]:
    state = state or ResistanceHistory()
    more, currents = good_list(look.readings.get(MORE), 3), good_list(look.readings.get(SECTOR_CURRENTS), 6)
    if more is not None and currents is not None and look.plate.current_a:
        current = abs(sum(currents)) / 6.0
        if current >= _LOADED * look.plate.current_a and _in_time(look):
            state = _with_look(state, (current, tuple(more)), look)
    return state, state.held.told if state.held else None


def _in_time(look: Look) -> bool:
    """Edges that are early or late make the pairs differ by themselves."""
    late = look.readings.get(LATE)
    return late is None or not isinstance(late.value, float) or abs(late.value) < _LATE_DEG


def _with_look(state: ResistanceHistory, now: tuple[float, Percent], look: Look) -> ResistanceHistory:
    if state.last and abs(state.last[-1][0] - now[0]) > _SAME * now[0]:  # a start, or another load: begin anew
        return ResistanceHistory((now,), state.before, state.held)
    gone, last = state.last[:1], (*state.last, now)[-_LAST:]
    if len(last) < _LAST:
        return ResistanceHistory(last, state.before, state.held)
    middle = _middle([each for _, each in last])
    alike = [each for current, each in state.before if abs(current - now[0]) < _SAME * now[0]]
    risen = [now_is - was for now_is, was in zip(middle, _middle(alike), strict=True)] if len(alike) >= _ALIKE else None
    verdict = _verdict(middle, risen, look)
    sound = verdict is None and (state.held is None or state.held.told is None) and len(state.last) == _LAST
    before = (*state.before, *gone)[-_BEFORE:] if sound else state.before
    return ResistanceHistory(last, before, held(state.held, verdict))


def _middle(looks: Sequence[Percent]) -> Percent:
    return tuple(median(each) for each in zip(*looks, strict=True))


def _stands_out(percent: Sequence[float], least: float, less: float) -> bool:
    return max(percent) >= least and -min(percent) <= less * max(percent)


def _verdict(middle: Percent, risen: list[float] | None, look: Look) -> Verdict | None:
    came = risen is not None and _stands_out(risen, _RISEN, _LESS_RISEN)
    if risen is None or not came:
        if not _stands_out(middle, _MORE, _LESS):
            return None
        worst = middle.index(max(middle))
    else:
        worst = risen.index(max(risen))
    phases = look.motor.phases
    told = ", ".join(f"{phase} {mean:+z.0f} %" for phase, mean in zip(phases, middle, strict=True))
    signs = [Sign(Speaks.FOR, f"By the currents of the pairs and how they rise: {told} against the other two.")]
    if came and risen is not None:
        signs.append(
            Sign(Speaks.FOR, f"It came in this run: {phases[worst]} {risen[worst]:+z.0f} % at the same current.")
        )
    name = phases[worst]
    answer = f"Phase {name} has more resistance than the others: a tenth of it or more."
    test = NextTest(f"Look for a warm plug or screw at {name} after a run; then an ohmmeter between leads.", POWER_OFF)
    opens = (
        CHANNELS_TOO,
        "Whether it is the winding, a contact or the drive's switch these figures can't tell.",
        "A drive that holds the current hides it: the figure is a lower bound.",
    )
    return Verdict("phase_resistance", _QUESTION, answer, Certainty.PLAIN, tuple(signs), opens, test, name)


PHASE_RESISTANCES = Rule("phase resistances", _step)
