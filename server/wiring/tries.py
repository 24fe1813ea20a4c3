"""Finding the order of the leads by trying, where their voltages are not measured: what to try next. Pure.

The Hall wires stay. Whatever they are, of the six orders of the leads one runs well (this way or that), two are weak
and three do not turn. What each try showed leaves fewer that can be the right one; of these the next try is the one
with the fewest plugs to move.
"""

from dataclasses import dataclass
from enum import StrEnum

from server.wiring.arrangement import AS_IT_IS, ORDERS, Order


class Showed(StrEnum):
    """What a try showed: under power with the current limited, the rotor bare."""

    WELL = "well"
    WEAK = "weak"
    STANDS = "stands"


@dataclass(frozen=True, slots=True)
class Try:
    """`phases[k]`: the lead on output k, by its place before the first try; `showed` on it."""

    phases: Order
    showed: Showed


@dataclass(frozen=True, slots=True)
class Trying:
    """What tries so far leave. `found`: an order that ran well; `next_order`: the one to try, None where one was found
    or the tries contradict each other (`contradicted`)."""

    found: Order | None
    next_order: Order | None
    contradicted: bool


def trying(tries: tuple[Try, ...]) -> Trying:
    """What is known after these tries, oldest first; with none, the order as it is comes first."""
    found = next((each.phases for each in tries if each.showed is Showed.WELL), None)
    left = [right for right in ORDERS if all(_shows(right, each.phases) is each.showed for each in tries)]
    if found is not None or not left:
        return Trying(found, None, found is None)
    now = tries[-1].phases if tries else AS_IT_IS
    return Trying(None, min(left, key=lambda order: (moves(now, order), ORDERS.index(order))), False)


def moves(now: Order, to: Order) -> int:
    """How many plugs change their place."""
    return sum(one != other for one, other in zip(now, to, strict=True))


def _shows(right: Order, order: Order) -> Showed:
    """What `order` shows where `right` is the one that runs well: weak where all three leads sit one place on, else it
    does not turn. (Enumerated by tests against the torque of each.)"""
    places = sum(one != other for one, other in zip(right, order, strict=True))
    return {0: Showed.WELL, 3: Showed.WEAK, 2: Showed.STANDS}[places]
