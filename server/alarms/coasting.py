"""How long a motor that has lost its current coasts to half its speed: friction by what it does. Pure."""

from dataclasses import dataclass, replace

import numpy as np

from server.readings import Fast


@dataclass(frozen=True, slots=True)
class Coast:
    """`ran_rpm`: the last speed at which it ran; `since_s`: it coasts since this board time and is above half that
    still."""

    ran_rpm: float = 0.0
    since_s: float | None = None
    state: str = ""


def coasted(coast: Coast, fast: Fast) -> tuple[Coast, float | None]:
    """What holds after these rows, and the seconds to half the speed where that was passed in them.

    Without an answer: it was switched on again, or half the speed was passed by the time the coasting was told.
    """
    for change in fast.changes:
        begins = change.state == "coasting" and coast.ran_rpm > 0.0
        coast = replace(coast, state=change.state, since_s=change.board_s if begins else None)
    speeds = np.abs(fast.speed_rpm)
    if coast.state == "running" and np.isfinite(speeds[-1:]).any():
        return replace(coast, ran_rpm=float(speeds[-1])), None
    if coast.since_s is None:
        return coast, None
    slow = np.flatnonzero(speeds <= 0.5 * coast.ran_rpm)  # none where it is NaN
    if not slow.size:
        return coast, None
    took_s = float(fast.board_s[slow[0]]) - coast.since_s
    return replace(coast, since_s=None), None if fast.changes else took_s
