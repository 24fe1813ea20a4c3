"""The current of the auxiliary winding goes away while the motor draws its own, and comes back."""

from dataclasses import dataclass

import numpy as np

from firmware_protocol import Role
from server.events.block import Block, Detector
from server.readings import Event

PLACE = "auxiliary"
_TYPES = ("permanent_split_capacitor", "split_phase", "capacitor_start")  # that have such a winding
LOST, BACK = 0.05, 0.1  # of the main current: a winding in circuit carries more than the latter, at a start too
ROWS = 4  # in turn: two cycles
_MAIN_SHARE = 0.1  # of the plate current: less is no current to compare with


@dataclass(frozen=True, slots=True)
class _Winding:
    carries: bool | None = None  # None: not known yet
    against: int = 0  # rows in turn that say otherwise
    was_off: bool = False  # the motor has been seen without current: what flows then was switched on


def _step(state: _Winding | None, block: Block) -> tuple[_Winding, list[Event]]:
    state = state or _Winding()
    place = _place(block)
    if place is None or block.fast is None:
        return state, []
    main, auxiliary = block.fast.current_a.tolist(), _levels(block, place)
    least = block.window.channels[place].least
    carries, against, off, found = state.carries, state.against, state.was_off, list[Event]()
    for row, board_s in enumerate(block.fast.board_s.tolist()):
        if not main[row] >= _MAIN_SHARE * (block.plate.current_a or 0.0) or not main[row] > 0:
            is_off = main[row] == main[row]
            carries, against, off = (None, 0, True) if is_off else (carries, 0, off)
            continue
        share = auxiliary[row] / main[row]
        now = True if share >= BACK else False if share < LOST else carries
        against = against + 1 if now is not carries else 0
        if against < ROWS:
            continue
        if carries is not None or (not now and off):
            text = "Auxiliary current came back" if now else "Auxiliary current fell to zero"
            if carries is None:
                text = "Switched on without auxiliary current"
            its = f"{auxiliary[row]:.3g} A, " if auxiliary[row] > least else ""
            detail = f"{its}line {main[row]:.3g} A"
            rows = ROWS - 1 if carries is None else ROWS  # power came within the first of them
            found.append(Event("auxiliary", board_s - rows * 0.01, text, detail, decisive=True))
        carries, against = now, 0
    return _Winding(carries, against, off), found


def carries(block: Block, row: int) -> bool | None:
    """The auxiliary winding is in circuit in this row; None: not known, or there is no such channel."""
    place = _place(block)
    if place is None or block.fast is None:
        return None
    share = _levels(block, place)[row] / max(float(block.fast.current_a[row]), 1e-12)
    return True if share >= BACK else False if share < LOST else None


def _place(block: Block) -> int | None:
    """The channel of the auxiliary current by its place in the window; None of a motor that has no such winding."""
    if block.motor is None or block.motor.key not in _TYPES:
        return None
    for k, channel in enumerate(block.window.channels):
        if channel.role is Role.CURRENT and channel.place.casefold() == PLACE and k != block.current:
            return k
    return None


def _levels(block: Block, place: int) -> list[float]:
    """RMS of a channel by rows."""
    assert block.fast is not None
    rows = block.fast.board_s.shape[0]
    bounds = np.arange(rows + 1) * block.window.count // rows
    squares = np.square(block.window.values[place])
    rms: list[float] = np.sqrt(np.add.reduceat(squares, bounds[:-1]) / np.diff(bounds)).tolist()
    return rms


AUXILIARY = Detector("auxiliary", _step)
