"""How wires and moves are said: by the place they are on, and by what the person calls them. Pure."""

import re
from dataclasses import dataclass, replace

from server.config import Wires
from server.verdict import Verdict
from server.wiring.arrangement import HALL_NAMES, PHASE_NAMES, Arrangement, Order


@dataclass(frozen=True, slots=True)
class Names:
    """What the person calls the three Hall wires and the three leads, by their present places; empty: not said."""

    halls: tuple[str, str, str] = ("", "", "")
    phases: tuple[str, str, str] = ("", "", "")

    def hall(self, place: int) -> str:
        """The Hall wire on this input."""
        return _named(HALL_NAMES[place], self.halls[place])

    def several(self, places: list[int]) -> str:
        """`A`, `A and C`, `A, B and C`."""
        called = [self.hall(place) for place in places]
        return " and ".join([", ".join(called[:-1]), called[-1]] if len(called) > 1 else called)

    def phase(self, place: int) -> str:
        """The lead on this output."""
        return _named(PHASE_NAMES[place], self.phases[place])


UNNAMED = Names()


def names_of(wires: Wires) -> Names:
    """As the settings have them."""
    return Names((wires.hall_a, wires.hall_b, wires.hall_c), (wires.lead_u, wires.lead_v, wires.lead_w))


def with_lead(verdict: Verdict, names: Names) -> Verdict:
    """Where it is about a phase by its letter: with what the person calls that lead, where a text names it first."""
    letter = verdict.about[:1]
    if verdict.about[1:2].strip() or letter not in tuple(PHASE_NAMES):
        return verdict
    lead = re.compile(rf"(?<=[a-z] ){letter}\b")  # a word stands before a phase, a number before volts

    def said(text: str) -> str:
        return lead.sub(lambda _: names.phase(PHASE_NAMES.index(letter)), text, count=1)

    test = verdict.next_test
    return replace(verdict, answer=said(verdict.answer), next_test=test and replace(test, text=said(test.text)))


def _named(letter: str, said: str) -> str:
    return f"{letter} ({said})" if said else letter


def names_after(names: Names, to: Arrangement) -> Names:
    """What sits on each place once the plugs are moved."""
    a, b, c = (names.halls[wire] for wire in to.halls)
    u, v, w = (names.phases[wire] for wire in to.phases)
    return Names((a, b, c), (u, v, w))


def names_before(names: Names, to: Arrangement) -> Names:
    """What sat on each place before they were: `names_after` undone."""
    a, b, c = (names.halls[to.halls.index(place)] for place in range(3))
    u, v, w = (names.phases[to.phases.index(place)] for place in range(3))
    return Names((a, b, c), (u, v, w))


def acts(to: Arrangement, names: Names) -> tuple[str, ...]:
    """What to do with the plugs, a sentence a cable; empty where they may stay. Settings of the drive are not acts."""
    halls = _act("Hall wires", to.halls, HALL_NAMES, [names.hall(k) for k in range(3)])
    phases = _act("phase plugs", to.phases, PHASE_NAMES, [names.phase(k) for k in range(3)])
    return tuple(each for each in (halls, phases) if each)


def _act(what: str, order: Order, letters: str, called: list[str]) -> str:
    moved = [place for place, wire in enumerate(order) if place != wire]
    if not moved:
        return ""
    if len(moved) == 2:
        return f"Exchange the {what} {called[moved[0]]} and {called[moved[1]]}."
    ways = ", ".join(f"{called[wire]} to {letters[order.index(wire)]}" for wire in range(3))
    return f"Move all three {what} one place: {ways}."
