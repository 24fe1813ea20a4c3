"""Grounds as a shaft in somebody's hand makes them, for the steps of a guided check."""

from dataclasses import fields, replace

import numpy as np

from server.hall.tail import Tail
from server.procedures import hall_check
from server.procedures.hall_guide import Key
from server.procedures.hall_records import Act, Answers, Observation, State, Told
from server.wiring.grounds import Grounds, Known
from server.wiring.names import Names
from server.wiring.visits import Visits, no_visits, visits_of
from tests.server.wiring.turned import TICK_HZ, Hand, turned_by_hand

NAMES = Names(("blue", "green", "white"), ("red", "black", "yellow"))
ANSWERS = Answers(NAMES, pole_pairs=7)
AGREE = Told(Act.AGREE)


def grounds(hand: Hand, then: Hand | None = None, *, driven_s: float = 0.0, probed: bool = True) -> Grounds:
    """Of one stroke, and perhaps of another behind it."""
    tail, leads = turned_by_hand(hand)
    visits = visits_of(tail, leads if probed else None, (), TICK_HZ)
    if then is not None:
        more, more_leads = turned_by_hand(then)
        visits = behind(visits, visits_of(more, more_leads if probed else None, (), TICK_HZ))
        tail = replace(
            tail,
            ticks=np.concatenate((tail.ticks, more.ticks + tail.ticks[-1])),
            states=np.concatenate((tail.states, more.states)),
        )
    most_v = float(leads.spread.max())
    known = Known(NAMES, True, pole_pairs=7)
    spans = ((0, int(tail.ticks[-1]) if tail.ticks.size else 0),) if driven_s else ()
    its = Grounds(visits, tail, 5, 3.0, driven_s, False, TICK_HZ, probed, leads.least_v, most_v, known)
    return replace(its, driven_spans=spans)


def behind(visits: Visits, later: Visits) -> Visits:
    """Both, one behind the other."""
    return Visits(*(np.concatenate((getattr(visits, one.name), getattr(later, one.name))) for one in fields(visits)))


def silent(states: list[int], before: int = 0) -> Grounds:
    """Edges alone, one a tick, no voltage: what inputs do that are not as they should be."""
    tail = Tail(np.arange(1, len(states) + 1), np.array(states, np.int64), before, 0, 0)
    return Grounds(no_visits(), tail, states[-1] if states else before, 3.0, 0.0, False, TICK_HZ, True, 0.1, 0.0)


def at(key: Key, agreed: bool = True, **more: object) -> State:
    """A check that is at this step, with its names said."""
    state = State(at=key, agreed=agreed, answers=ANSWERS)
    return replace(state, **more)  # type: ignore[arg-type]  # fields of State by name


def seen(state: State, its: Grounds | None = None, **more: object) -> Observation:
    """What is seen in the stretch of this step."""
    return replace(Observation(its, state.opening), **more)  # type: ignore[arg-type]  # fields of Observation by name


def looked(state: State, its: Grounds | None = None, told: Told | None = None, **more: object) -> State:
    """One more look at these grounds."""
    return hall_check.step(state, seen(state, its, **more), told)


def says(state: State, its: Grounds | None = None, **more: object) -> str:
    """What the step says of these grounds, and what it misses."""
    judged = hall_check.judgement(state, seen(state, its, **more))
    return f"{judged.says} | {judged.missing}"
