"""The current of a running motor goes from one level to another."""

from dataclasses import dataclass

import numpy as np

from server.events.auxiliary import carries
from server.events.block import Block, Detector
from server.readings import Event

SHARE = 0.05  # of the level before: less is drift or noise
AGREE = 0.02  # two windows in turn this close make a level
FOLLOW = 0.02  # of the way to a slowly drifting current, each window: 10 s
KEPT = 10  # windows looked through for the moment at which it left the level


@dataclass(frozen=True, slots=True)
class _Level:
    """`amps` it was at; `before`: the mean of the window before; `since`: windows from the last one at the level on."""

    amps: float | None = None
    before: float | None = None
    since: tuple[Block, ...] = ()


def _step(state: _Level | None, block: Block) -> tuple[_Level, list[Event]]:
    state = state or _Level()
    if block.fast is None or not block.states or any(each != "running" for each in block.states):
        return _Level(), []
    mean = float(np.mean(block.fast.current_a))
    if np.isnan(mean) or not mean > 0:
        return _Level(), []
    # While the next edge is late the shaft may stand: then it is no load step, and the run state will say so.
    slow = block.doubtful("speed_rpm")
    steady = not slow and state.before is not None and abs(mean - state.before) <= AGREE * mean
    if state.amps is None or not steady:
        return _Level(mean if steady else state.amps, mean, (*state.since[-KEPT:], block)), []
    if abs(mean - state.amps) <= SHARE * state.amps:
        return _Level(state.amps + FOLLOW * (mean - state.amps), mean, (block,)), []
    found = [] if _auxiliary_changed(state.since[0], block) else [_event(state, block, mean)]
    return _Level(mean, mean, (block,)), found


def _event(state: _Level, block: Block, mean: float) -> Event:
    assert state.amps is not None
    verb = "rose" if mean > state.amps else "fell"
    text = f"Current {verb} from {state.amps:.3g} A to {mean:.3g} A"
    rpm = block.value("speed_rpm")
    detail = "" if rpm is None else f"{rpm:.0f} r/min"
    return Event("load_step", _left_s(state.since, state.amps), text, detail)


def _left_s(since: tuple[Block, ...], amps: float) -> float:
    """Board time of the first row after the last one at the level, as far as rows are kept."""
    rows = [each.fast for each in since if each.fast is not None]
    times, levels = (np.concatenate(each) for each in zip(*((row.board_s, row.current_a) for row in rows), strict=True))
    at = np.flatnonzero(np.abs(levels - amps) <= SHARE * amps)
    return float(times[at[-1] if at.size else 0])  # rows are dated by their ends


def _auxiliary_changed(first: Block, last: Block) -> bool:
    """Between the two the auxiliary current came or went: then that is what happened, and not the load."""
    return carries(first, 0) is not carries(last, -1)


LOAD_STEP = Detector("load_step", _step)
