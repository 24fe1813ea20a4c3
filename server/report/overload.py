"""For how long a current stood above the plate's, by the columns that are drawn of it. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from server.report.report import Trend

OVER = 1.15  # of the plate's current: common practice for a service factor, no published source
LONG_S = 20.0  # in a row: a start is over by then


@dataclass(frozen=True, slots=True)
class Overload:
    """Seconds in stretches of LONG_S and more, and the highest mean of a column in them as a part of the plate's."""

    seconds: float
    highest: float


def overload_of(trends: Sequence[Trend], plate_a: float | None) -> Overload | None:
    """None where there was none, or no plate or current to tell by."""
    drawn = next((each for each in trends if each.kind == "current"), None)
    if drawn is None or not plate_a:
        return None
    share = np.abs(drawn.mean) / plate_a
    edges = np.flatnonzero(np.diff(np.concatenate(([0], (share > OVER).astype(np.int8), [0]))))
    spans = edges.reshape(-1, 2)
    held = spans[(spans[:, 1] - spans[:, 0]) * drawn.column_s >= LONG_S]
    if not held.size:
        return None
    highest = max(float(share[since:to].max()) for since, to in held)
    return Overload(float((held[:, 1] - held[:, 0]).sum()) * drawn.column_s, highest)
