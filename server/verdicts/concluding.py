"""All rules over time, and the moments at which one begins to be told."""

from collections.abc import Callable

from server.guarded import Guarded
from server.readings import Event
from server.verdict import Verdict
from server.verdicts.phase_currents import PHASE_CURRENTS
from server.verdicts.phase_resistances import PHASE_RESISTANCES
from server.verdicts.rule import Look, Rule
from server.verdicts.timing import TIMING

RULES: tuple[Rule, ...] = (PHASE_CURRENTS, PHASE_RESISTANCES, TIMING)


class Conclusions:
    """Of one board with one motor."""

    def __init__(self) -> None:
        self._rules = Guarded((f"verdict on {rule.name}", rule.step) for rule in RULES)
        self._told = frozenset[tuple[str, str]]()

    def step(self, look: Look, failed: Callable[[str, Exception], object]) -> tuple[Verdict, ...]:
        """What is told now, in the order of RULES; `failed` hears of a rule that raises, which is asked no more."""
        return tuple(told for told in self._rules.step(look, failed) if told is not None)

    def news(self, told: tuple[Verdict, ...], board_s: float) -> list[Event]:
        """A moment for each verdict that was not told at the step before."""
        before, self._told = self._told, frozenset((each.key, each.about) for each in told)
        return [_event(each, board_s) for each in told if (each.key, each.about) not in before]


def _event(verdict: Verdict, board_s: float) -> Event:
    """The first part of the answer; what it may be from stands below."""
    text, _, rest = verdict.answer.rstrip(".").partition(": ")
    return Event("concluded", board_s, text, rest, decisive=True)
