"""Holes that marks of a run tell of: between which instants each lies, and in which parts. Pure."""

from itertools import pairwise
from math import inf
from typing import TypeAlias

from server.runs.marks import CABLE_BACK, CABLE_OUT, STARTED

WINDOW_S_MAX = 0.5  # a window of 200 ms, by a clock of the board that is known to a fraction of that


def in_parts(
    since_utc_s: float, until_utc_s: float | None, marks: list[tuple[float, str]]
) -> list[tuple[float, float | None, str]]:
    """A hole with its marks, in time: from each on what it says, from the hole's beginning what the first one says.

    A service that came back and found no board until that came back too: in that part the cable was out.
    """
    said = [(since_utc_s, marks[0][1])]
    for (utc_s, text), (_, after) in pairwise([*marks, (inf, "")]):
        if text == STARTED and after == CABLE_BACK:
            said.append((utc_s, CABLE_OUT))
        elif text not in (STARTED, CABLE_BACK, said[-1][1]):
            said.append((utc_s, text))
    ends = [*(utc_s for utc_s, _ in said[1:]), until_utc_s]
    return [(utc_s, end, text) for (utc_s, text), end in zip(said, ends, strict=True)]


Hole: TypeAlias = tuple[float, float | None]


def hole_of(
    mark: str, since: float | None, until: float | None, later_since: float | None, later_until: float | None
) -> Hole | None:
    """Between which instants a mark lies, and a moment of WINDOW_S_MAX after it; None: nothing came before it.

    A cable is pulled in the middle of a window, and the window's instant is its end: the hole lies behind that.
    """
    if since is None or later_since is None:
        return None
    if mark in (STARTED, CABLE_BACK) or until is None:
        return since, until
    if later_until is None or later_until - later_since > until - since:
        return later_since, later_until
    return since, until
