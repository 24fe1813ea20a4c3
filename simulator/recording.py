"""A recording as the player takes it: channels of numbers with what they mean. Records only, and their checks.

Nothing is guessed: a channel says what it measures, over which range, and at which rate or with which time
stamps. A recording can be written down here in Python, or read from a file with its description.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from firmware_protocol import InputDescription, Role, SampleKind


class RecordingError(ValueError):
    """A recording or its description that cannot be played; the sentence says which part and what to write."""


@dataclass(frozen=True, slots=True)
class RecordedChannel:
    """One channel. `values` (samples,) in `unit`; values beyond `low` and `high` arrive clipped, as from a sensor.

    Even: `rate_hz`, sample 0 at 0 s. Uneven: `times_s` (samples,), rising, and `interval_max_s`, the longest
    interval promised: after a longer one the channel counts as stale. `kind_s` is the time over which a mean
    or RMS was taken. The rest is what is known of the sensor; None: not known.
    """

    name: str
    role: Role
    unit: str
    low: float
    high: float
    values: NDArray[np.float64]
    place: str = ""
    rate_hz: Fraction | float | None = None
    times_s: NDArray[np.float64] | None = None
    interval_max_s: float | None = None
    kind: SampleKind = SampleKind.INSTANTANEOUS
    kind_s: float = 0.0
    delay_s: float = 0.0
    delay_limit_s: float | None = None
    noise_rms: float | None = None  # in `unit`
    gain_limit: float | None = None
    offset_limit: float | None = None  # in `unit`
    corner_low_hz: float | None = None
    corner_high_hz: float | None = None
    ac_coupled: bool = False
    bits: int = 16  # of the board's converter: 12, 16 or 24

    def __post_init__(self) -> None:
        if self.bits not in (12, 16, 24):
            raise RecordingError(f"{self.name}: {self.bits} bits, a board's codes have 12, 16 or 24")
        if self.values.ndim != 1 or not len(self.values):
            raise RecordingError(f"{self.name}: shape {self.values.shape}, one channel is a row of at least one number")
        if not np.isfinite(self.values).all():
            at = int(np.flatnonzero(~np.isfinite(self.values))[0])
            raise RecordingError(f"{self.name}: value {at} is {self.values[at]}; cut it out or fill it before playing")
        if not self.low < self.high or not np.isfinite((self.low, self.high)).all():
            raise RecordingError(f"{self.name}: the range {self.low:g} to {self.high:g} {self.unit} is none")
        if (self.rate_hz is None) == (self.times_s is None):
            raise RecordingError(f"{self.name}: needs either a rate in Hz or an array of times in seconds")
        if self.rate_hz is not None and not 0 < self.rate_hz < float("inf"):
            raise RecordingError(f"{self.name}: a rate of {float(self.rate_hz):g} Hz is none")
        if self.times_s is not None:
            self._check_times(self.times_s)

    def _check_times(self, times_s: NDArray[np.float64]) -> None:
        if self.interval_max_s is None or not self.interval_max_s > 0:
            raise RecordingError(f"{self.name}: needs interval_max_s, the longest interval between its samples")
        if times_s.shape != self.values.shape:
            raise RecordingError(f"{self.name}: {len(self.values)} values and times of shape {times_s.shape}")
        if not np.isfinite(times_s).all() or (np.diff(times_s) <= 0).any():
            raise RecordingError(f"{self.name}: its times do not rise from sample to sample")


def _no_times() -> NDArray[np.float64]:
    return np.zeros(0)


def _no_states() -> NDArray[np.uint8]:
    return np.zeros(0, np.uint8)


@dataclass(frozen=True, slots=True)
class Recording:
    """Channels and inputs of one board on one clock. `edge_states[k]` are the levels from `edge_times_s[k]` on.

    Bit b of a state is the input with `bit` b; before the first edge the wires read `levels_before`. The
    recording begins at `start_s` of its own time stamps: None means 0 where a channel is even, else the
    earliest stamp there is.
    """

    name: str
    channels: Sequence[RecordedChannel]
    inputs: Sequence[InputDescription] = ()
    edge_times_s: NDArray[np.float64] = field(default_factory=_no_times)
    edge_states: NDArray[np.uint8] = field(default_factory=_no_states)
    levels_before: int = 0
    plate: str = ""  # TOML: [motor] and [motor.plate] as in a rig's settings
    serial: str = "PL-0001"
    tick_hz: int = 1_000_000
    start_s: float | None = None

    def __post_init__(self) -> None:
        if not self.channels and not self.inputs:
            raise RecordingError("the recording has no channel and no input")
        times = self.edge_times_s
        if times.shape != self.edge_states.shape or times.ndim != 1:
            raise RecordingError(f"edges: times of shape {times.shape}, states of shape {self.edge_states.shape}")
        if not np.isfinite(times).all() or (np.diff(times) < 0).any():
            raise RecordingError("edges: the times do not rise")
        if len(times) and not self.inputs:
            raise RecordingError("edges: no input is described")
        lengths: dict[Fraction, int] = {}
        for channel in self.channels:
            if channel.rate_hz is not None:
                known = lengths.setdefault(Fraction(channel.rate_hz), len(channel.values))
                if known != len(channel.values):
                    raise RecordingError(
                        f"{channel.name}: {len(channel.values)} samples, others of its rate have {known}"
                    )

    @property
    def begin_s(self) -> float:
        """The time of its own stamps at which the board starts."""
        if self.start_s is not None:
            return self.start_s
        stamps = [float(channel.times_s[0]) for channel in self.channels if channel.times_s is not None]
        even = [0.0 for channel in self.channels if channel.rate_hz is not None]
        return min(even or stamps or [float(self.edge_times_s[0]) if len(self.edge_times_s) else 0.0])
