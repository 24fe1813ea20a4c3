"""Seconds of a voltage and a current as a board measures them: true signals with a known gain, offset and delay."""

from dataclasses import dataclass

import numpy as np

from firmware_protocol import Role
from server.calibration.stretch import PIECES, Stretch
from server.samples import Channel, Part, Samples

RATE_HZ = 5000.0
TICK_HZ = 1_000_000.0
VOLTAGE = Channel(0, Role.VOLTAGE, "U", "supply", "V", -400.0, 400.0, 0, RATE_HZ, noise_rms=0.05, offset_limit=1.0)
CURRENT = Channel(1, Role.CURRENT, "I", "line", "A", -10.0, 10.0, 0, RATE_HZ, noise_rms=0.002, offset_limit=0.05)
STATED = Part(0.05 / 3**0.5)


@dataclass(frozen=True, slots=True)
class Fault:
    """What a channel is off by: value = (1 + gain) * true(t - delay) + offset."""

    gain: float = 0.0
    offset: float = 0.0
    delay_s: float = 0.0


def sine(rms: float, hertz: float = 50.0, lag_deg: float = 0.0, fault: Fault = Fault()) -> np.ndarray:
    """Three seconds and a bit, without noise."""
    times = np.arange(int(RATE_HZ * 3.2)) / RATE_HZ - fault.delay_s
    wave = rms * np.sqrt(2.0) * np.cos(2.0 * np.pi * hertz * times - np.radians(lag_deg))
    return np.asarray((1.0 + fault.gain) * wave + fault.offset)


def level(value: float) -> np.ndarray:
    return np.full(int(RATE_HZ * 3.2), value)


def stretch_of(
    *rows: np.ndarray,
    channels: tuple[Channel, ...] = (VOLTAGE, CURRENT),
    seed: int | None = None,
    block: int = 70,
) -> Stretch:
    """The rows in blocks, with the channels' noise where there is a seed."""
    values = np.array(rows)
    if seed is not None:
        noise = np.array([[each.noise_rms or 0.0] for each in channels])
        values = values + noise * np.random.default_rng(seed).standard_normal(values.shape)
    ends = np.array([[each.low, each.high] for each in channels])
    stretch = Stretch()
    for at in range(0, values.shape[1], block):
        piece = values[:, at : at + block]
        clipped = (piece <= ends[:, :1]) | (piece >= ends[:, 1:])
        missing = np.zeros(piece.shape[1], np.bool_)
        stretch.take(Samples(channels, at, at * 200, TICK_HZ / RATE_HZ, TICK_HZ, piece, missing, clipped))
    assert stretch.count == PIECES
    return stretch
