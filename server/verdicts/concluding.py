"""All rules over time, each with its state; one that fails is asked no more."""

from collections.abc import Callable

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
        self._rules: list[tuple[Rule, object]] = [(each, None) for each in RULES]
        self._told = frozenset[tuple[str, str]]()

    def step(self, look: Look, failed: Callable[[str, Exception], object]) -> tuple[Verdict, ...]:
        """What is told now, in the order of RULES; `failed` hears of a rule that raises."""
        working: list[tuple[Rule, object]] = []
        told: list[Verdict] = []
        for rule, state in self._rules:
            try:
                state, verdict = rule.step(state, look)
            except Exception as error:  # whatever it is, the other verdicts go on
                failed(f"verdict on {rule.name}", error)
                continue
            told += [verdict] if verdict is not None else []
            working.append((rule, state))
        self._rules = working
        return tuple(told)

    def news(self, told: tuple[Verdict, ...], board_s: float) -> list[Event]:
        """A moment for each verdict that was not told at the step before."""
        before, self._told = self._told, frozenset((each.key, each.about) for each in told)
        return [_event(each, board_s) for each in told if (each.key, each.about) not in before]


def _event(verdict: Verdict, board_s: float) -> Event:
    """The first part of the answer; what it may be from stands below."""
    text, _, rest = verdict.answer.rstrip(".").partition(": ")
    return Event("concluded", board_s, text, rest, decisive=True)
