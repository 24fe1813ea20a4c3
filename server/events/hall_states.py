"""A Hall state that does not belong, or one that was skipped: commutation that went wrong at a moment."""

from dataclasses import dataclass

import numpy as np

from server.events.block import Block, Detector
from server.hall.table import sectors
from server.readings import Event

_AGAIN_S = 10.0  # until more of the same is told: a fault of the wiring makes hundreds a second
_OVER_S = 2.0  # without any: what comes then is told at once
_SHARE = 0.1  # of the visits beside it: a shorter one is a glitch


@dataclass(frozen=True, slots=True)
class Occurrences:
    """When one was last told, when one last came, and how many have come since the one that was told."""

    told_s: float = -np.inf
    last_s: float = -np.inf
    since: int = 0


FIRST = Occurrences()


def _step(state: Occurrences | None, block: Block) -> tuple[Occurrences, list[Event]]:
    state = state or FIRST
    fresh = block.turned
    if fresh is None or not fresh.visits.count:
        return state, []
    spacing = block.plate.hall_spacing_deg or 120
    of_state, visits = sectors(spacing), fresh.visits
    known = visits.sure & (visits.before >= 0)
    lasted = visits.end_tick - visits.begin_tick
    beside = np.minimum(np.roll(lasted, 1), np.roll(lasted, -1))
    illegal = known & (of_state[visits.state] == 0) & (lasted >= _SHARE * beside)
    steps = (of_state[visits.state] - of_state[visits.before] + 2) % 6 - 2
    skipped = known & (np.abs(steps) > 1) & (of_state[visits.state] > 0) & (of_state[visits.before] > 0)
    wrong = np.flatnonzero(illegal | skipped)
    if not wrong.size:
        return state, []
    at = int(wrong[0])
    board_s = float(visits.begin_tick[at] / block.window.tick_hz)
    count = state.since + int(wrong.size)
    last_s = float(visits.begin_tick[wrong[-1]] / block.window.tick_hz)
    if board_s - state.told_s < _AGAIN_S and board_s - state.last_s < _OVER_S:
        return Occurrences(state.told_s, last_s, count), []
    now, before = int(visits.state[at]), int(visits.before[at])
    if illegal[at]:
        text = f"Hall state {now} came, which {spacing}° sensors do not make"
    else:
        text = f"Hall state {now} came after {before}: a state was skipped"
    going_on = board_s - state.last_s < _OVER_S
    detail = f"{count} such steps since the last one told" if going_on else ""
    return Occurrences(board_s, last_s), [Event("hall_states", board_s, text, detail)]


HALL_STATES = Detector("hall_states", _step)
