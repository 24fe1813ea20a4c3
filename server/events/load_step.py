"""The current of a running motor goes from one level to another."""

from dataclasses import dataclass

import numpy as np

from server.events.block import Block, Detector
from server.readings import Event

SHARE = 0.05  # of the level before: less is drift or noise
AGREE = 0.02  # two windows in turn this close make a level
FOLLOW = 0.02  # of the way to a slowly drifting current, each window: 10 s


@dataclass(frozen=True, slots=True)
class _Level:
    amps: float | None = None  # the level it was at
    since_s: float = 0.0  # when the window before began
    before: float | None = None  # the mean of the window before


def _step(state: _Level | None, block: Block) -> tuple[_Level, list[Event]]:
    state = state or _Level()
    if block.fast is None or not block.states or any(each != "running" for each in block.states):
        return _Level(), []
    mean = float(np.mean(block.fast.current_a))
    if np.isnan(mean) or not mean > 0:
        return _Level(), []
    begun_s = float(block.fast.board_s[0])
    # While the next edge is late the shaft may stand: then it is no load step, and the run state will say so.
    slow = block.doubtful("speed_rpm")
    steady = not slow and state.before is not None and abs(mean - state.before) <= AGREE * mean
    if state.amps is None or not steady:
        return _Level(mean if steady else state.amps, begun_s, mean), []
    if abs(mean - state.amps) <= SHARE * state.amps:
        return _Level(state.amps + FOLLOW * (mean - state.amps), begun_s, mean), []
    verb = "rose" if mean > state.amps else "fell"
    text = f"Current {verb} from {state.amps:.3g} A to {mean:.3g} A"
    rpm = block.value("speed_rpm")
    detail = "" if rpm is None else f"{rpm:.0f} r/min"
    return _Level(mean, begun_s, mean), [Event("load_step", state.since_s, text, detail)]


LOAD_STEP = Detector("load_step", _step)
