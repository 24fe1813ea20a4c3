"""Power goes off: the sample at which the voltage ended.

A coasting motor, or a capacitor, holds a voltage up for a while: so it is told once the voltage has been away for
0.2 s, and dated where it left what it had been one cycle before, which is before its current ended.
"""

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from server.events.block import Block, Detector
from server.events.power_on import OFF, ON, REST_ROWS
from server.readings import Event

KEPT_S = 0.05  # of samples before the window, to compare with
CYCLE_S = 0.02  # of a direct voltage, which has none
LEFT = 0.9  # of the voltage it had: below it may be going off
DEPARTS, DEPARTS_DIRECT = 0.10, 0.01  # of the peak: what differs by more from one cycle before has departed
NOISES = 6.0  # and by more than so many times the channel's noise
LASTS_S = 0.005  # in which more than half of the samples must have departed too: one of them may be a spike
CURRENT_S = 0.03  # a link's capacitor holds its voltage up for so long after its current ended
LONGEST_S = 10.0  # a voltage that is held up for longer was turned down, not switched off
STEADY, STEADY_ROWS = 0.01, 50  # so is one that stays within a hundredth for half a second while current flows


_ENDED = ("coasting", "resting")


@dataclass(frozen=True, slots=True)
class _Supply:
    """`on`; the highest row of the window before; `left_s` since when it may be going off; `off` rows in turn;
    `ended_s` since when no current flows; `steady` rows within a hundredth of `steady_v`; `kept` samples.
    """

    on: bool = False
    level_v: float = 0.0
    left_s: float | None = None
    off: int = 0
    ended_s: float | None = None
    steady_v: float = 0.0
    steady: int = 0
    kept: NDArray[np.float64] = field(default_factory=lambda: np.empty(0))


def _step(state: _Supply | None, block: Block) -> tuple[_Supply, list[Event]]:
    state = state or _Supply()
    rated_v = block.plate.voltage_v
    if block.fast is None or block.voltage is None or not rated_v or block.bridged:
        return state, []
    rows = block.fast.voltage_v
    kept = block.window.values[block.voltage, -round(KEPT_S * block.window.rate_hz) :].copy()
    for change in block.fast.changes:
        since_s = change.board_s if state.ended_s is None else state.ended_s
        state = replace(state, ended_s=since_s if change.state in _ENDED else None)
    lowest, highest = float(rows.min()), float(rows.max())
    if not state.on and highest <= ON * rated_v:
        return _Supply(kept=kept), []
    if state.on and state.left_s is None and lowest >= max(LEFT * state.level_v, LEFT * highest, OFF * rated_v):
        return _Supply(True, highest, ended_s=state.ended_s, kept=kept), []  # nearly always
    found: list[Event] = []
    for row, level in enumerate(rows.tolist()):
        state = _row(state, block, row, level, rated_v, found)
    return replace(state, kept=kept), found


def _row(state: _Supply, block: Block, row: int, level: float, rated_v: float, found: list[Event]) -> _Supply:
    if level != level:
        return state
    if not state.on:
        return replace(state, on=level > ON * rated_v, level_v=level, left_s=None, off=0)
    assert block.fast is not None
    back = level >= max(LEFT * state.level_v, OFF * rated_v)
    if back or (state.left_s is not None and float(block.fast.board_s[row]) - state.left_s > LONGEST_S):
        return replace(state, level_v=max(state.level_v, level) if back else level, left_s=None, off=0)
    state = _steadied(state, level)
    if state.steady >= STEADY_ROWS and state.ended_s is None and level >= OFF * rated_v:
        return replace(state, level_v=level, left_s=None, off=0)
    left_s = _left_s(state, block, row) if state.left_s is None else state.left_s
    off = state.off + 1 if level < OFF * rated_v else 0
    if off < REST_ROWS:
        return replace(state, left_s=left_s, off=off)
    if state.ended_s is not None and abs(left_s - state.ended_s) <= CURRENT_S:
        left_s = min(left_s, state.ended_s - 1.0 / block.window.rate_hz)
    found.append(Event("power_off", left_s, "Power went off", decisive=True))
    return _Supply(kept=state.kept)


def _steadied(state: _Supply, level: float) -> _Supply:
    if abs(level - state.steady_v) <= STEADY * level:
        return replace(state, steady=state.steady + 1)
    return replace(state, steady_v=level, steady=0)


def _left_s(state: _Supply, block: Block, row: int) -> float:
    """Board time of the sample from which on, up to this row, it is not what it was one cycle before."""
    assert block.voltage is not None
    assert block.fast is not None
    window, rate_hz, kept = block.window, block.window.rate_hz, state.kept.shape[0]
    hertz = block.plate.frequency_hz if block.alternating else None
    cycle, lasts = round(rate_hz / hertz if hertz else rate_hz * CYCLE_S), round(LASTS_S * rate_hz)
    length = window.count // len(block.fast.board_s)
    volts = np.concatenate((state.kept, window.values[block.voltage]))[: kept + (row + 1) * length]
    at = volts.shape[0] - length
    if volts.shape[0] >= cycle + lasts:
        peak_v = float(np.nanmax(np.abs(volts), initial=0.0))
        noise_v = NOISES * (window.channels[block.voltage].noise_rms or 0.0)
        departs = np.abs(volts[cycle:] - volts[:-cycle]) > max((DEPARTS if hertz else DEPARTS_DIRECT) * peak_v, noise_v)
        most = np.convolve(departs, np.ones(lasts), "valid") > 0.5 * lasts  # of the samples from each one on
        first = int(np.flatnonzero(np.append(True, ~most))[-1])  # behind the last from which they do not
        at = cycle + first + int(departs[first:].argmax())
    return float((window.first_tick + (at - kept) * window.ticks_per_sample) / window.tick_hz)


POWER_OFF = Detector("power_off", _step)
