"""Blocks of samples for the tests of this folder: 20 kS/s and a 1 MHz board clock unless told otherwise."""

from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from firmware_protocol import ChannelDescription, Identity, InputDescription, InputKind, Role
from server.pipeline import Description
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


class Sync:
    """A clock that puts board time 0 at a moment."""

    def __init__(self, zero_utc_s: float = 1_795_600_000.0) -> None:
        self.zero_utc_s = zero_utc_s
        self.uncertainty_s: float | None = 0.002
        self.drift_ppm: float | None = -3.0

    def utc_s(self, board_s: float) -> float:
        return self.zero_utc_s + board_s


def described(
    channels: int = 2, serial: str = "S-1", boot: int = 1, source: str = "hardware", halls: bool = False
) -> Description:
    """A board with supply voltage and line current, perhaps with three Hall inputs A B C on bits 0 1 2."""
    said = [
        ChannelDescription(0, Role.VOLTAGE, "U", "supply", "V", 0.0125, 0.0, -32000, 32000, 0, Fraction(50)),
        ChannelDescription(1, Role.CURRENT, "I", "line", "A", 0.00015, 0.0, -32000, 32000, 0, Fraction(50)),
    ][:channels]
    inputs = [InputDescription(k, InputKind.HALL, f"Hall {name}", k) for k, name in enumerate("ABC") if halls]
    who = Identity(1, 0, boot, int(TICK_HZ), len(said), len(inputs), serial, "M-1", "1.0", source)
    return Description(who, tuple(said), tuple(inputs))


def sines(
    seconds: float, frequency_hz: float = 50.0, lag_deg: float = 30.0, start_s: float = 0.0, rate_hz: float = 20_000.0
) -> NDArray[np.float64]:
    """325 V and 1 A of amplitude, the current behind; shape (2, samples)."""
    t = start_s + np.arange(round(seconds * rate_hz)) / rate_hz
    angle = 2 * np.pi * frequency_hz * t
    return np.stack((325.0 * np.sin(angle), np.sin(angle - np.radians(lag_deg))))
