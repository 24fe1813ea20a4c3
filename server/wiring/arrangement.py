"""Which wire sits where: all ways to plug three Hall wires and three phase leads, and what a drive makes of them.

Wires are named by the place they have now: the Hall wire on input A is `A`, the lead on output U is `U`. An arrangement
says which of them sits on each place afterwards. The drive's table (`DRIVEN`) is that of published commutation tables;
for a shaft that turns forward it takes the pair of phases with the greatest voltage between them. Pure tables.
"""

from functools import cache, lru_cache
from itertools import permutations
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from server.hall.table import DRIVEN, sectors

HALL_NAMES, PHASE_NAMES = "ABC", "UVW"
Order = tuple[int, int, int]
AS_IT_IS: Order = (0, 1, 2)
ORDERS: tuple[Order, ...] = tuple((a, b, c) for a, b, c in permutations(range(3)))
STATES, MASKS = 8, 8


class Arrangement(NamedTuple):
    """Which wire sits where, and how the drive reads it.

    `halls[k]`: the wire on input k, `phases[k]`: the lead on output k, as numbers of their present places; `inverted`:
    bits of the inputs that are read the other way round, after moving; `spacing_deg`: of the table of the drive.
    """

    halls: Order = AS_IT_IS
    phases: Order = AS_IT_IS
    inverted: int = 0
    spacing_deg: int = 120

    @property
    def plugs(self) -> int:
        """How many plugs have another place than now."""
        return sum(place != wire for order in (self.halls, self.phases) for place, wire in enumerate(order))


AS_IT_STANDS = Arrangement()


@cache
def seen_as(halls: Order, inverted: int) -> NDArray[np.int64]:
    """The state that the drive reads, by the state that comes over the wires as they are now: (8,)."""
    states = np.arange(STATES)
    read = sum((states >> wire & 1) << place for place, wire in enumerate(halls))
    out: NDArray[np.int64] = np.asarray(read ^ inverted, dtype=np.int64)
    out.flags.writeable = False
    return out


@lru_cache(maxsize=2)
def weights(spacing_deg: int) -> NDArray[np.float64]:
    """What the drive takes of each lead's voltage: (orders of Halls 6, masks 8, orders of phases 6, states 8, leads 3).

    +1 for the lead on plus, -1 for that on minus, 0 for the third, and for all three in a state that the table lacks.
    """
    table = np.zeros((len(ORDERS), MASKS, len(ORDERS), STATES, 3))
    of_state = sectors(spacing_deg)
    for h, halls in enumerate(ORDERS):
        for mask in range(MASKS):
            sector = of_state[seen_as(halls, mask)]
            for q, phases in enumerate(ORDERS):
                for state in np.flatnonzero(sector):
                    plus, minus = DRIVEN[sector[state] - 1]
                    table[h, mask, q, state, phases[plus]] = 1.0
                    table[h, mask, q, state, phases[minus]] = -1.0
    table.flags.writeable = False
    return table
