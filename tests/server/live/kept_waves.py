"""Waves and kept pictures of known channels for the tests of this folder: 10 kS/s, board time from 100 s on."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from firmware_protocol import Role
from server.live.cut import Cut
from server.live.kept import Kept
from server.live.wave import Wave
from server.motors import motor_type
from server.readings import Reading, Uncertainty
from server.samples import Channel, Part
from tests.server.live.blocks import channel

RATE = 10_000.0
FIRST_S = 100.0
GAIN, OFFSET, DELAY, NOISE = 0.005, 0.002, 2e-6, 0.0005  # limits; offset and noise as shares of the range
CLOCK = Part(50e-6 / 3**0.5)


def measured(index: int, role: Role, place: str, limit: float) -> Channel:
    return replace(
        channel(index, role, place, limit, RATE),
        noise_rms=NOISE * limit,
        gain=Part(GAIN / 3**0.5),
        offset_error=Part(OFFSET * limit / 3**0.5),
        delay_error=Part(DELAY / 3**0.5),
        clock=CLOCK,
        step=limit / 32_000,
    )


VOLTAGE = measured(0, Role.VOLTAGE, "supply", 400.0)
CURRENT = measured(1, Role.CURRENT, "line", 10.0)


def wave(values: NDArray[np.float64], channel: Channel = VOLTAGE, first_s: float = FIRST_S) -> Wave:
    return Wave(channel, values, np.zeros(values.size, dtype=np.bool_), first_s, RATE)


def supply(seconds: float = 0.1, hertz: float = 50.0, lag_deg: float = 30.0) -> NDArray[np.float64]:
    """325 V and 2 A of amplitude with a third harmonic, the current behind and with a mean; shape (2, samples)."""
    angle = 2 * np.pi * hertz * np.arange(round(seconds * RATE)) / RATE
    late = angle - np.radians(lag_deg)
    return np.stack((325.0 * np.sin(angle), 2.0 * np.sin(late) + 0.4 * np.sin(3 * late) + 0.1))


def kept(values: NDArray[np.float64] | None = None) -> Kept:
    """A second of a supply of 50 Hz, its frequency read as that within 5 mHz."""
    taken = (supply(1.0) if values is None else values).astype(np.float32)
    nothing = np.zeros(taken.shape, dtype=np.bool_)
    cut = Cut((VOLTAGE, CURRENT), RATE, FIRST_S, taken, nothing, nothing[0])
    frequency = Reading("frequency_hz", 50.0, uncertainty=Uncertainty(49.995, 50.005, 1.96, (("noise", 0.00255),)))
    end_s = FIRST_S + taken.shape[1] / RATE
    kind = motor_type("permanent_split_capacitor")
    return Kept(3, "held", "held", FIRST_S, end_s, end_s, 1.8e9, (cut,), kind, frequency)
