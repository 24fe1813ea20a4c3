"""The six-step table: which Hall state stands for which sixth of an electrical turn, and what a step between two means.

A state is 4 C + 2 B + A with 1 for a high level. Sector 1 begins where A rises turning forward. The order of the
120-degree table agrees with published commutation tables; the 60-degree one follows from B lagging A by 60 degrees
and C lagging B by 60. Pure tables.
"""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

FORWARD = {120: (5, 1, 3, 2, 6, 4), 60: (1, 3, 7, 6, 4, 0)}  # states of sectors 1..6, by sensor spacing
DRIVEN = ((0, 1), (0, 2), (1, 2), (1, 0), (2, 0), (2, 1))  # U V W: outputs on plus and minus in sectors 1..6, forward
SECTOR_DEG = 60.0
SECTOR_1_BEGINS_DEG = 30.0


@lru_cache(maxsize=2)
def sectors(spacing_deg: int) -> NDArray[np.int64]:
    """Sector 1..6 by state 0..7; 0 for the two states that do not come with this spacing (60 or 120 degrees)."""
    by_state = np.zeros(8, dtype=np.int64)
    by_state[list(FORWARD[spacing_deg])] = range(1, 7)
    by_state.flags.writeable = False
    return by_state


def steps_between(sector: NDArray[np.int64]) -> NDArray[np.int64]:
    """Signed sectors moved between neighbours of `sector` (n,): (n - 1,) of -2..3; 3 is half a turn, either way.

    Both ends must be sectors 1..6. +-1: one edge. +-2: an edge was lost, or two signals moved together. 3: two lost.
    """
    steps: NDArray[np.int64] = (np.diff(sector) + 2) % 6 - 2
    return steps
