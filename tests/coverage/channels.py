"""Channels that err within what they state, each in its own way, and what they make of a wave."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from math import exp, sqrt
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from firmware_protocol import Role
from server.samples import Channel, Part, Samples

RATE_HZ, SAMPLES, TICK_HZ = 20_000.0, 4000, 1_000_000.0
Signal: TypeAlias = Callable[[NDArray[np.float64]], NDArray[np.float64]]  # values at true times in seconds


@dataclass(frozen=True, slots=True)
class Clock:
    """Of one board: how much longer its second is than a true one (relative), what it states of that, and the true
    times of SAMPLES samples."""

    slow: float
    part: Part

    @property
    def seconds(self) -> NDArray[np.float64]:
        times: NDArray[np.float64] = (1.0 + self.slow) * np.arange(SAMPLES, dtype=np.float64) / RATE_HZ
        return times


def fineness(draw: np.random.Generator) -> float:
    """Some boards leave scatter alone: by so much are their limits smaller."""
    return exp(-draw.uniform(4.0, 7.0)) if draw.random() < 0.4 else 1.0


def clock_of(draw: np.random.Generator, fine: float) -> Clock:
    ppm = fine**2 * exp(draw.uniform(0.0, 4.0))
    return Clock(draw.uniform(-ppm, ppm) * 1e-6, Part(ppm * 1e-6 / sqrt(3.0)))


def channel_of(draw: np.random.Generator, role: Role, place: str, size: float, fine: float) -> Channel:
    """Limits between good and poor; some channels have been calibrated, and then it is as likely to be off either way
    as a normal distribution has it."""
    unit, name = ("V", "U") if role is Role.VOLTAGE else ("A", "I")
    top = 2.2 * size * exp(draw.uniform(0.0, 1.0))
    noise = size * 10 ** (-draw.uniform(40.0, 80.0) / 20.0)
    gain, offset, delay = (
        fine * exp(draw.uniform(-9.0, -4.5)),
        fine * size * exp(draw.uniform(-9.5, -5.0)),
        fine * exp(draw.uniform(-16.0, -11.5)),
    )
    box = bool(draw.random() < 0.6)
    gain_part, offset_part, delay_part = (Part(each / sqrt(3.0), box) for each in (gain, offset, delay))
    return Channel(
        *(0, role, f"{name} {place}", place, unit, -top, top, 0, RATE_HZ),
        noise_rms=noise,
        gain=gain_part,
        offset_error=offset_part,
        delay_error=delay_part,
        step=top / 32_000,
    )


def off(draw: np.random.Generator, part: Part | None) -> float:
    assert part is not None
    limit = part.standard * sqrt(3.0)
    return draw.uniform(-limit, limit) if part.rectangular else draw.normal(0.0, part.standard)


def level_at(times_s: NDArray[np.float64], level: float) -> NDArray[np.float64]:
    """A direct voltage or current."""
    return np.full(times_s.shape, level)


class Board:
    """Channels in their order and what each is off by, the same in all windows."""

    def __init__(self, draw: np.random.Generator, channels: list[Channel], clock: Clock) -> None:
        self.channels = [replace(channel, index=k, clock=clock.part) for k, channel in enumerate(channels)]
        self.clock = clock
        self._off = [
            (1.0 + off(draw, each.gain), off(draw, each.offset_error), off(draw, each.delay_error))
            for each in self.channels
        ]

    def window(self, draw: np.random.Generator, true: Iterable[Signal], from_s: float = 0.0) -> Samples:
        """What it tells of the true waves of all channels; a window of those of which all is told."""
        rows = [self._seen(draw, k, wave, from_s) for k, wave in enumerate(true)]
        values, none = np.ascontiguousarray(np.vstack(rows)), np.zeros(SAMPLES, dtype=np.bool_)
        clipped = np.zeros(values.shape, dtype=np.bool_)
        return Samples(tuple(self.channels), 0, 0, TICK_HZ / RATE_HZ, TICK_HZ, values, none, clipped)

    def late_s(self, k: int) -> float:
        """By how much a channel is later than it says."""
        return self._off[k][2]

    def _seen(self, draw: np.random.Generator, k: int, wave: Signal, from_s: float) -> NDArray[np.float64]:
        channel, (gain, offset, late_s) = self.channels[k], self._off[k]
        values = gain * wave(from_s + self.clock.seconds - late_s) + offset
        values += draw.normal(0.0, channel.noise_rms or 0.0, SAMPLES)
        rounded: NDArray[np.float64] = np.rint(values / channel.step) * channel.step
        return rounded
