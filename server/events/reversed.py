"""The shaft turns the other way."""

from dataclasses import dataclass

import numpy as np

from server.events.block import Block, Detector
from server.readings import Event, Fast

ROWS = 5  # 50 ms in the new direction
RPM_MIN = 10.0  # twice the default of the stopped speed: below it a shaft only trembles


@dataclass(frozen=True, slots=True)
class Turn:
    """`sign` of the last direction that was certain (0: none yet), and for how many rows in turn the other one."""

    sign: int = 0
    other: int = 0


UNTURNED = Turn()


def turned(turn: Turn, fast: Fast) -> tuple[Turn, list[int]]:
    """Rows in which another direction became certain; the first one is no turn."""
    sign, other, rows = turn.sign, turn.other, list[int]()
    rpm = fast.speed_rpm
    if not other and not (rpm * sign <= -RPM_MIN if sign else np.abs(rpm) >= RPM_MIN).any():
        return turn, rows  # nothing turns the other way; NaN is on neither side
    signs = np.where(np.abs(np.nan_to_num(rpm)) >= RPM_MIN, np.sign(np.nan_to_num(rpm)), 0).astype(int)
    for row, now in enumerate(signs.tolist()):
        other = other + 1 if now and now != sign else 0 if now else other
        if other < ROWS:
            continue
        if sign:
            rows.append(row)
        sign, other = now, 0
    return Turn(sign, other), rows


def _step(state: Turn | None, block: Block) -> tuple[Turn, list[Event]]:
    state = state or UNTURNED
    if block.fast is None:
        return state, []
    state, rows = turned(state, block.fast)
    times, rpm = block.fast.board_s, block.fast.speed_rpm
    return state, [
        Event("reversed", float(times[row]), "Reversed", f"{rpm[row]:+.0f} r/min", decisive=True) for row in rows
    ]


REVERSED = Detector("reversed", _step)
