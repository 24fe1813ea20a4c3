"""What the board measured, in SI units: channels, blocks of samples, edges. Records only."""

from dataclasses import dataclass
from math import inf

import numpy as np
from numpy.typing import NDArray

from firmware_protocol import InputKind, Role, SampleKind

_NOISES = 3.0  # an RMS below three times the noise is mostly noise
_RANGE_SHARE_LEAST = 1e-4  # of the range: three codes of 16 bits; a channel that states less noise still has its steps
PEAK = 1.5  # noise of some thousand samples reaches 4 times its RMS, and `least` holds it 3 times
_RANGE_SHARE_UNSTATED = 0.005  # of the range where no noise is stated: common practice, no published source


@dataclass(frozen=True, slots=True)
class Part:
    """A standard uncertainty that is not from the scatter of a window (JCGM 100, 4.3: type B) and what is said of it.

    `rectangular`: half a limit's width over the root of 3; else taken as normal. `origin`: words for the budget.
    """

    standard: float
    rectangular: bool = True
    dof: float = inf
    origin: str = "the board's stated limit"


@dataclass(frozen=True, slots=True)
class Channel:
    """A channel as the service uses it; `low` and `high` are the ends of its range in `unit`.

    `offset_limit`: what it may read at nothing at most, in `unit`; None where the board does not say. `gain`
    (relative), `offset_error` (in `unit`) and `delay_error` (in seconds): what these may be off by, None where nobody
    says; `clock`: the same of the board's clock (relative). `skew`: what the delay may be off by beside that of the
    channel with the index `skew_from`, where it was found against that one; `turned_s`: the delay that was found, at
    `turned_hz`. `step`: the value of one code, 0 where there are no codes.
    """

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
    offset_limit: float | None = None
    gain: Part | None = None
    offset_error: Part | None = None
    delay_error: Part | None = None
    skew: Part | None = None
    skew_from: int | None = None
    turned_s: float = 0.0
    turned_hz: float | None = None
    clock: Part | None = None
    step: float = 0.0

    def __hash__(self) -> int:
        """Of a few fields alone: layouts are looked up by all channels of a group, window after window."""
        return hash((self.index, self.role, self.name, self.place))

    @property
    def least(self) -> float:
        """RMS below which it may be noise and offset alone: a ratio of it means nothing."""
        span = max(abs(self.low), abs(self.high))
        if self.noise_rms is None:
            return max(_RANGE_SHARE_UNSTATED * span, self.offset_limit or 0.0)
        return max(_NOISES * self.noise_rms, _RANGE_SHARE_LEAST * span) + (self.offset_limit or 0.0)


@dataclass(frozen=True, slots=True)
class Input:
    """A digital input; `bit` is its place in the states of an EdgeTrain.

    `look_ticks`: it is looked at so far apart at most, and an edge is anywhere in the time before the look that found
    it; 1: each edge has its own tick.
    """

    index: int
    kind: InputKind
    name: str
    bit: int
    pulses_per_turn: int | None = None
    look_ticks: int = 1


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
    `clock`: what the board's clock may be off by (relative); None where nobody says.
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
    clock: Part | None = None

    @property
    def look_ticks(self) -> int:
        """How far apart looks at the inputs are, at most; 1 where each edge has its own tick."""
        return max((each.look_ticks for each in self.inputs if each.kind is not InputKind.COUNTER), default=1)


@dataclass(frozen=True, slots=True)
class CountTrain:
    """What a counter input has told: so many pulses by `counts` at the ticks of the last of them, `ticks`.

    Both int64, shape (words,), both rising; `counts` go on over 2^32, and only their differences mean anything. In
    `told` ticks, (from, to), every pulse is counted: the first word that holds came at its begin, the newest at its
    end; None: no word came. `anew_tick`: where the count ran backwards, so that nothing before it holds; None: nowhere.
    `clock` as in `EdgeTrain`.
    """

    input: Input
    tick_hz: float
    ticks: NDArray[np.int64]
    counts: NDArray[np.int64]
    told: tuple[int, int] | None
    anew_tick: int | None = None
    clock: Part | None = None


@dataclass(frozen=True, slots=True)
class SlowSample:
    """One sample of an uneven channel in SI units."""

    channel: Channel
    number: int
    tick: int
    value: float
    clipped: bool
