"""Dips and swells of an alternating supply, by the limits of IEC 61000-4-30 (from memory).

RMS over one cycle, renewed each half cycle, against the plate voltage: a dip below 90 %, a swell above 110 %, over when
the voltage is 2 % inside the limit again. One that ends below 10 % is the supply being switched off and no dip.
The rows of 10 ms are half cycles of 50 Hz; at other frequencies five of them are averaged, which is coarser.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from server.events.block import Block, Detector
from server.readings import Event

DIP, SWELL, HYSTERESIS, OFF = 0.90, 1.10, 0.02, 0.10
LONGEST_S = 60.0  # a dip or swell that lasts longer is told without its end
_ROWS_50_HZ, _ROWS_ELSE = 2, 5


@dataclass(frozen=True, slots=True)
class _Supply:
    rows: tuple[float, ...] = ()  # mean squares that the next mean needs
    on: bool = False
    since_s: float | None = None  # of the dip or swell
    swell: bool = False
    most: float = 0.0  # lowest or highest RMS in it
    told: bool = False


def _step(state: _Supply | None, block: Block) -> tuple[_Supply, list[Event]]:
    state = state or _Supply()
    rated_v = block.plate.voltage_v
    if block.fast is None or not block.alternating or not rated_v:
        return state, []
    at_50_hz = block.plate.frequency_hz is not None and abs(block.plate.frequency_hz - 50.0) < 1.0
    rms, rest = _sliding(state.rows, block.fast.voltage_v, _ROWS_50_HZ if at_50_hz else _ROWS_ELSE)
    found: list[Event] = []
    if not (state.since_s is None and state.on and _inside(rms, rated_v)):  # nearly always there is nothing to see
        for board_s, volts in zip(block.fast.board_s.tolist(), rms.tolist(), strict=True):
            state = _row(state, board_s, volts, rated_v, found)
    return _Supply(rest, state.on, state.since_s, state.swell, state.most, state.told), found


def _inside(rms: NDArray[np.float64], rated_v: float) -> bool:
    return bool(((rms > DIP * rated_v) & (rms < SWELL * rated_v)).all())


def _sliding(
    before: tuple[float, ...], volts: NDArray[np.float64], rows: int
) -> tuple[NDArray[np.float64], tuple[float, ...]]:
    """RMS over the last `rows` rows at each row (NaN while there are fewer), and the squares the next block needs."""
    squares = np.concatenate((np.full(rows - 1 - len(before), np.nan), before, np.square(volts)))
    means = np.convolve(squares, np.full(rows, 1.0 / rows), "valid")
    return np.sqrt(np.maximum(means, 0.0)), tuple(squares[len(squares) - rows + 1 :].tolist())


def _row(state: _Supply, board_s: float, volts: float, rated_v: float, found: list[Event]) -> _Supply:
    share = volts / rated_v
    if share != share:
        return state
    if share < OFF:
        return _Supply()
    if state.since_s is None:
        if not state.on:
            return _Supply(on=DIP + HYSTERESIS <= share <= SWELL - HYSTERESIS)
        if DIP <= share <= SWELL:
            return state
        return _Supply((), True, board_s, share > SWELL, volts)
    most = max(state.most, volts) if state.swell else min(state.most, volts)
    over = share <= SWELL - HYSTERESIS if state.swell else share >= DIP + HYSTERESIS
    late = board_s - state.since_s >= LONGEST_S and not state.told
    if (over and not state.told) or late:
        found.append(_event(state.since_s, board_s, state.swell, most, rated_v, over))
    if over:
        return _Supply(on=True)
    return _Supply((), True, state.since_s, state.swell, most, state.told or late)


def _event(since_s: float, board_s: float, swell: bool, most: float, rated_v: float, over: bool) -> Event:
    kind, verb = ("voltage_swell", "rose") if swell else ("voltage_dip", "dipped")
    how_long = f" for {board_s - since_s:.2f} s" if over else f", for more than {LONGEST_S:.0f} s"
    return Event(
        kind, since_s, f"Voltage {verb} to {most:.0f} V{how_long}", f"{100 * most / rated_v:.0f} % of the plate voltage"
    )


VOLTAGE = Detector("voltage", _step)
