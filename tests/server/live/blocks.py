"""Blocks of samples for the tests of this folder: 20 kS/s and a 1 MHz board clock unless told otherwise."""

import numpy as np
from numpy.typing import NDArray

from firmware_protocol import Role
from server.samples import Channel, Samples

TICK_HZ = 1_000_000.0


def channel(index: int, role: Role, place: str, limit: float, rate_hz: float = 20_000.0, group: int = 0) -> Channel:
    unit = {Role.VOLTAGE: "V", Role.CURRENT: "A"}.get(role, "")
    return Channel(index, role, f"c{index}", place, unit, -limit, limit, group=group, rate_hz=rate_hz)


def supply_and_line(rate_hz: float = 20_000.0) -> tuple[Channel, ...]:
    return (
        channel(0, Role.VOLTAGE, "supply", 400.0, rate_hz),
        channel(1, Role.CURRENT, "line", 5.0, rate_hz),
    )


def block(
    values: NDArray[np.float64],
    first_sample: int = 0,
    channels: tuple[Channel, ...] | None = None,
    missing: NDArray[np.bool_] | None = None,
    clipped: NDArray[np.bool_] | None = None,
    rate_hz: float = 20_000.0,
) -> Samples:
    ticks = TICK_HZ / rate_hz
    gone = np.zeros(values.shape[1], dtype=np.bool_) if missing is None else missing
    values = np.where(gone, np.nan, values)
    clipped = np.zeros(values.shape, dtype=np.bool_) if clipped is None else clipped
    chosen = channels or supply_and_line(rate_hz)
    return Samples(chosen, first_sample, round(first_sample * ticks), ticks, TICK_HZ, values, gone, clipped)
