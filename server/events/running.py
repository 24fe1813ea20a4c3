"""Running after a start: how long it took."""

from dataclasses import dataclass, replace

import numpy as np

from server.events.block import Block, Detector
from server.readings import UP_TO_SPEED, Event, StateChange

SHORTEST_S = 0.1  # ten rows: a shorter time is not told in figures
_MISSING = "samples are missing in between"
_AGAIN = {"stalled": "Came free and ran steadily again"}  # no start from switched off
_LAST_ROWS = 20  # the settled end of a start


@dataclass(frozen=True, slots=True)
class _Start:
    before: str = ""  # last known run state
    started_s: float | None = None
    begun_from: str = ""  # the state before: from a stall or coasting a motor comes back to its speed
    missing: bool = False  # samples since then, so that the time is a guess


def _step(state: _Start | None, block: Block) -> tuple[_Start, list[Event]]:
    state = state or _Start()
    started_s, begun_from, found = state.started_s, state.begun_from, list[Event]()
    missing = bool(state.missing or block.gap_s or block.window.missing.any())
    for change, before in block.turns(state.before):
        if change.state == "starting":
            started_s, begun_from = change.board_s, before
            continue
        if change.state == "running" and started_s is not None:
            event = _event(block, change, started_s, begun_from)
            found.append(replace(event, detail=f"{event.detail}; {_MISSING}".lstrip("; ")) if missing else event)
        started_s = None
    return _Start(block.last_state(state.before), started_s, begun_from, missing and started_s is not None), found


def _event(block: Block, change: StateChange, started_s: float, begun_from: str) -> Event:
    """Up to speed at 95 % of the speed at which it settled; without speed only that it runs."""
    assert block.fast is not None
    row, after_s = block.told_row(change), change.board_s - started_s
    settled_rpm = float(np.abs(block.fast.speed_rpm[max(row + 1 - _LAST_ROWS, 0) : row + 1]).mean())
    at_rest = begun_from in ("", "resting")
    if settled_rpm != settled_rpm:
        text = (
            f"Ran steadily {after_s:.2g} s after the start" if at_rest else _AGAIN.get(begun_from, "Ran steadily again")
        )
        return Event("running", change.board_s, text)
    text = "Up to speed" if at_rest else "Came back to speed"
    if after_s < SHORTEST_S:
        return Event("running", change.board_s, text, f"{settled_rpm:.0f} r/min", True)
    since = "its first turn" if begun_from == "stalled" else "its first current"
    detail = f"{100 * UP_TO_SPEED:.0f} % of {settled_rpm:.0f} r/min, from {since}"
    return Event("running", change.board_s, f"{text} after {after_s:.2f} s", detail, True, after_s if at_rest else None)


RUNNING = Detector("running", _step)
