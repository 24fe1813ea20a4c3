"""Running after a start: how long it took."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from server.events.block import Block, Detector
from server.readings import Event

UP_TO_SPEED = 0.95  # of the speed it settled at: the usual end of a start (t95)
ROWS_MAX = 3000  # of a start that are kept: half a minute
_LAST_ROWS = 20  # the settled end of a start


@dataclass(frozen=True, slots=True)
class _Start:
    before: str = ""  # last known run state
    started_s: float | None = None
    rows: NDArray[np.float64] | None = None  # (2, rows): board time, magnitude of the speed


def _step(state: _Start | None, block: Block) -> tuple[_Start, list[Event]]:
    state = state or _Start()
    if block.fast is None:
        return state, []
    found = []
    started_s = state.started_s
    turns = list(block.turns(state.before))
    if state.rows is None and not turns:  # nearly always
        return _Start(block.last_state(state.before)), []
    rows = np.vstack((block.fast.board_s, np.abs(block.fast.speed_rpm)))
    if state.rows is not None:
        rows = np.hstack((state.rows, rows))[:, -ROWS_MAX:]
    for board_s, _, now in turns:
        if now == "starting":
            started_s = board_s
        elif now == "running" and started_s is not None:
            found.append(_event(rows, started_s, board_s))
            started_s = None
        else:
            started_s = None
    return _Start(block.last_state(state.before), started_s, rows if started_s is not None else None), found


def _event(rows: NDArray[np.float64], started_s: float, running_s: float) -> Event:
    """Up to speed at 95 % of the speed at which it settled; without speed only that it runs."""
    start = rows[:, (rows[0] > started_s) & (rows[0] <= running_s)]
    settled = start[1, -_LAST_ROWS:]
    settled_rpm = float(settled.mean()) if settled.size else float("nan")
    up = np.flatnonzero(start[1] >= UP_TO_SPEED * settled_rpm)  # none where a speed is not known
    if not up.size:
        return Event("running", running_s, f"Ran steadily {running_s - started_s:.2g} s after the start")
    after_s = float(start[0, up[0]]) - started_s
    text = f"Up to speed after {after_s:.2f} s"
    detail = f"{100 * UP_TO_SPEED:.0f} % of {settled_rpm:.0f} r/min"
    return Event("running", started_s + after_s, text, detail, True, after_s)


RUNNING = Detector("running", _step)
