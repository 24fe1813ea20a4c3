"""The shaft turns the other way."""

from dataclasses import dataclass

import numpy as np

from server.events.block import Block, Detector
from server.readings import Event

ROWS = 5  # 50 ms in the new direction
RPM_MIN = 10.0  # twice the default of the stopped speed: below it a shaft only trembles


@dataclass(frozen=True, slots=True)
class _Turn:
    sign: int = 0  # of the last direction that was certain
    other: int = 0  # rows in turn in the other direction


def _step(state: _Turn | None, block: Block) -> tuple[_Turn, list[Event]]:
    sign, other = (state.sign, state.other) if state else (0, 0)
    found: list[Event] = []
    if block.fast is None:
        return _Turn(sign, other), found
    rpm = block.fast.speed_rpm
    if not other and not (rpm * sign <= -RPM_MIN if sign else np.abs(rpm) >= RPM_MIN).any():
        return _Turn(sign), found  # nothing turns the other way; NaN is on neither side
    signs = np.where(np.abs(np.nan_to_num(rpm)) >= RPM_MIN, np.sign(np.nan_to_num(rpm)), 0).astype(int)
    for board_s, now, speed in zip(block.fast.board_s.tolist(), signs.tolist(), rpm.tolist(), strict=True):
        other = other + 1 if now and now != sign else 0 if now else other
        if other < ROWS:
            continue
        if sign:
            found.append(Event("reversed", board_s, "Reversed", f"{speed:+.0f} r/min", decisive=True))
        sign, other = now, 0
    return _Turn(sign, other), found


REVERSED = Detector("reversed", _step)
