"""What the board measured, in SI units: channels, blocks of samples, edges. Records only."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firmware_protocol import InputKind, Role, SampleKind


@dataclass(frozen=True, slots=True)
class Channel:
    """A channel as the service uses it; `low` and `high` are the ends of its range in `unit`."""

    index: int
    role: Role
    name: str
    place: str
    unit: str
    low: float
    high: float
    group: int | None = None
    rate_hz: float | None = None  # None: uneven
    interval_max_s: float | None = None  # uneven channels: the longest interval promised
    kind: SampleKind = SampleKind.INSTANTANEOUS
    noise_rms: float | None = None
    delay_s: float = 0.0
    corner_low_hz: float | None = None
    corner_high_hz: float | None = None
    ac_coupled: bool = False


@dataclass(frozen=True, slots=True)
class Input:
    """A digital input; `bit` is its place in the states of an EdgeTrain."""

    index: int
    kind: InputKind
    name: str
    bit: int
    pulses_per_turn: int | None = None


@dataclass(frozen=True, slots=True)
class Samples:
    """A stretch of one group of evenly sampled channels, every sample promised by the board in its place.

    `values` has shape (channels, samples), C order, SI units; where `missing` (samples,) is true the
    board's sample never came and the value is NaN. `clipped` (channels, samples) marks codes at or
    beyond the end of the range. Sample k was taken at `first_tick + k * ticks_per_sample`, before the
    channel's own delay.
    """

    channels: tuple[Channel, ...]
    first_sample: int
    first_tick: int
    ticks_per_sample: float
    tick_hz: float
    values: NDArray[np.float64]
    missing: NDArray[np.bool_]
    clipped: NDArray[np.bool_]

    @property
    def rate_hz(self) -> float:
        return self.tick_hz / self.ticks_per_sample

    @property
    def count(self) -> int:
        return int(self.missing.shape[0])

    @property
    def end_tick(self) -> int:
        """Tick at which the sample after the last one is due."""
        return self.first_tick + round(self.count * self.ticks_per_sample)


@dataclass(frozen=True, slots=True)
class EdgeTrain:
    """Edges of all inputs in a stretch of board time: `states[k]` holds from `ticks[k]` on, `before` until the first.

    Inversion is undone: bit b of a state is the level of the input with that bit. `known_to_tick`: up
    to here no edge can be missing but inside the `uncertain` spans (first tick, last tick) where
    frames were lost and edges may have been among them. `ticks` int64 and `states` uint8, shape (edges,).
    `level_tick`: the newest tick at which the board itself told the levels; what was lost before it leaves them sure.
    """

    inputs: tuple[Input, ...]
    tick_hz: float
    before: int | None  # None: the level is not known yet
    ticks: NDArray[np.int64]
    states: NDArray[np.uint8]
    known_from_tick: int
    known_to_tick: int
    uncertain: tuple[tuple[int, int], ...] = ()
    level_tick: int = -1


@dataclass(frozen=True, slots=True)
class SlowSample:
    """One sample of an uneven channel in SI units."""

    channel: Channel
    number: int
    tick: int
    value: float
    clipped: bool
