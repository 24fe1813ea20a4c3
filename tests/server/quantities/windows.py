"""Windows made of ideal waves, for the tests of readings. The series are the tests' own."""

from collections.abc import Iterable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from firmware_protocol import Role
from server.config import Plate
from server.motors import MotorType
from server.quantities import window_readings
from server.readings import Reading
from server.samples import Channel, Samples
from tests.server.signals.slow import Wave, sampled

TICK_HZ = 1_000_000.0


def voltage(place: str = "supply", limit_v: float = 400.0, **said: object) -> Channel:
    return replace(Channel(0, Role.VOLTAGE, f"U {place}", place, "V", -limit_v, limit_v), **said)  # type: ignore[arg-type]  # names of Channel


def current(place: str = "line", limit_a: float = 10.0, **said: object) -> Channel:
    return replace(Channel(0, Role.CURRENT, f"I {place}", place, "A", -limit_a, limit_a), **said)  # type: ignore[arg-type]  # names of Channel


def window(
    channels: Iterable[Channel],
    rows: Iterable[NDArray[np.float64]],
    rate_hz: float = 20_000.0,
    *,
    missing: slice | None = None,
    clipped: tuple[int, slice] | None = None,
) -> Samples:
    """One window of group 0. Missing samples are NaN, as the service has them; clipped ones keep their value."""
    listed = tuple(
        replace(channel, index=k, group=0, rate_hz=rate_hz, noise_rms=channel.noise_rms or 1e-3)
        for k, channel in enumerate(channels)
    )
    values = np.ascontiguousarray(np.vstack(list(rows)), dtype=np.float64)
    lost, over = np.zeros(values.shape[1], dtype=np.bool_), np.zeros(values.shape, dtype=np.bool_)
    if missing is not None:
        lost[missing] = True
        values[:, missing] = np.nan
    if clipped is not None:
        over[clipped] = True
    return Samples(listed, 0, 0, TICK_HZ / rate_hz, TICK_HZ, values, lost, over)


def waves(
    hertz: float, *shapes: Wave, rate_hz: float = 20_000.0, count: int | None = None, start_turns: float = 0.0
) -> list[NDArray[np.float64]]:
    """200 ms of each wave."""
    samples = round(rate_hz * 0.2) if count is None else count
    return [sampled(shape, hertz, rate_hz, samples, start_turns) for shape in shapes]


def read(
    samples: Samples, motor: MotorType | None = None, plate: Plate | None = None, speed: Reading | None = None
) -> dict[str, Reading]:
    return {each.id: each for each in window_readings(samples, motor, plate or Plate(), speed)}


def number(readings: dict[str, Reading], key: str) -> float:
    value = readings[key].value
    assert isinstance(value, float), readings[key]
    return value
