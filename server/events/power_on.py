"""Power comes on: the first peak of the current, and where in its cycle the voltage stood.

Told when the 50 ms behind it are known, so sometimes one window later.
"""

from dataclasses import dataclass
from math import atan2, degrees, pi

import numpy as np
from numpy.typing import NDArray

from server.events.block import Block, Detector
from server.readings import Event

QUIET, LOUD = 0.02, 0.05  # of the plate current
OFF, ON = 0.10, 0.50  # of the plate voltage
SEEN = 0.01  # of the plate voltage: the first sample that is more is the moment
REST_ROWS = 20  # 0.2 s without power before
AFTER_S = 0.05  # in which the first peak is looked for; two cycles and a half


@dataclass(frozen=True, slots=True)
class _Waiting:
    """`off`: rows in turn without power. `on_s`, `after`: the moment, and the samples since then, volts and amps."""

    off: int = 0
    on_s: float | None = None
    after: NDArray[np.float64] | None = None


def _step(state: _Waiting | None, block: Block) -> tuple[_Waiting, list[Event]]:
    state = state or _Waiting()
    if block.fast is None or block.current is None or block.bridged:
        return state, []
    found: list[Event] = []
    if state.on_s is not None and state.after is not None:
        after = np.hstack((state.after, _samples(block)))
        found.append(_event(block, state.on_s, after[:, : _count(block)]))
    off, at = _search(state.off, block)
    if at is None:
        return _Waiting(off), found
    samples = _samples(block)
    first = _first(block, samples, at)
    on_s = (block.window.first_tick + first * block.window.ticks_per_sample) / block.window.tick_hz
    after = samples[:, first:]
    if after.shape[1] < _count(block):
        return _Waiting(0, on_s, after), found
    found.append(_event(block, on_s, after[:, : _count(block)]))
    return _Waiting(off), found


def _count(block: Block) -> int:
    return round(AFTER_S * block.window.rate_hz)


def _samples(block: Block) -> NDArray[np.float64]:
    """Volts and amps, (2, samples); zeros where no voltage is measured."""
    values = block.window.values
    volts = np.zeros(block.window.count) if block.voltage is None else values[block.voltage]
    assert block.current is not None
    return np.vstack((volts, values[block.current]))


def _search(off: int, block: Block) -> tuple[int, int | None]:
    """Rows in turn without power at the end of the block, and the row in which it came on."""
    assert block.fast is not None
    rated_a, rated_v = block.plate.current_a, block.plate.voltage_v
    by_voltage = block.voltage is not None and rated_v
    if not by_voltage and not (rated_a and block.alternating):
        return 0, None  # without a plate there is no telling power from noise; a drive's current is no switch
    level = block.fast.voltage_v / rated_v if by_voltage and rated_v else block.fast.current_a / (rated_a or 1.0)
    low, high = (OFF, ON) if by_voltage else (QUIET, LOUD)
    at = None
    for row, share in enumerate(level.tolist()):
        if share > high and off >= REST_ROWS:
            at = row if at is None else at
        # Between the two a row is the one in which power came on, or an EMF that dies away: it ends no rest.
        off = off + 1 if share < low else 0 if share > high or share != share else off
    return off, at


def _first(block: Block, samples: NDArray[np.float64], row: int) -> int:
    """The first sample with power, in the row that shows it or the one before."""
    assert block.fast is not None
    length = block.window.count // len(block.fast.board_s)
    start = max(0, (row - 1) * length)
    before = samples[:, max(0, start - length) : start]
    level = np.array([[SEEN * (block.plate.voltage_v or 0.0)], [QUIET * (block.plate.current_a or 0.0)]])
    if before.size:
        level = np.maximum(level, 1.5 * np.abs(before).max(axis=1, keepdims=True))
    seen = (np.abs(samples[:, start : (row + 1) * length]) > level) & (level > 0)
    return start + int(seen.any(axis=0).argmax())


def _event(block: Block, on_s: float, after: NDArray[np.float64]) -> Event:
    peak = _peak(block, after[1])
    angle_deg = _angle_deg(block, after[0])
    angle = "" if angle_deg is None else f"voltage at {round(angle_deg) % 360}° after its rising zero"
    return Event("power_on", on_s, "Power came on", ", ".join(filter(None, (peak, angle))), decisive=True)


def _peak(block: Block, amps: NDArray[np.float64]) -> str:
    """The first peak, where it is a current: a drive that waits draws none."""
    assert block.current is not None
    least = max(2.0 * block.window.channels[block.current].least, QUIET * (block.plate.current_a or 0.0))
    peak_a = float(np.nanmax(np.abs(amps))) if not np.isnan(amps).all() else 0.0
    channel = block.window.channels[block.current]
    clipped = bool(((amps >= channel.high) | (amps <= channel.low)).any())
    return f"first peak {'at least ' if clipped else ''}{peak_a:.3g} A" if peak_a > least else ""


def _angle_deg(block: Block, volts: NDArray[np.float64]) -> float | None:
    """Angle of an alternating voltage at the first sample, from a sine through the samples behind it."""
    hertz = block.plate.frequency_hz
    if not block.alternating or block.voltage is None or not hertz or np.isnan(volts).any():
        return None
    turned = 2.0 * pi * hertz / block.window.rate_hz * np.arange(volts.shape[0])
    (sine, cosine), *_ = np.linalg.lstsq(np.column_stack((np.sin(turned), np.cos(turned))), volts, rcond=None)
    return float(degrees(atan2(cosine, sine)) % 360.0)


POWER_ON = Detector("power_on", _step)
