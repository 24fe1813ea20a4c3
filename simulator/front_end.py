"""From the true signal to codes: filter and delay, gain and offset error, noise, rounding, clipping.

What a channel's description states as limits is what is drawn here: the errors of one board lie inside
its own description. A front end without a generator is exact: recorded values have met a sensor already.
"""

from collections.abc import Sequence
from math import ceil, pi

import numpy as np
from numpy.typing import NDArray

from firmware_protocol import ChannelDescription

_SETTLED = 16.0  # time constants after which a first-order filter has forgotten: e^-16 is a tenth of a code in 2^20
_TAPS_MAX = 64


def quantise(values: NDArray[np.float64], channel: ChannelDescription) -> NDArray[np.int32]:
    """Values in the channel's unit to its codes, rounded to nearest and held at the ends of its range."""
    codes = np.rint((values - channel.offset) / channel.scale)
    return np.clip(codes, channel.code_low, channel.code_high).astype(np.int32)


def filter_taps(delay_s: float, corner_hz: float | None, sample_s: float) -> NDArray[np.float64]:
    """Weights of the newest, the one before, ... sample that make a first-order low-pass with a given delay.

    The signal is taken as straight between its samples; tap m is then the second difference of the
    filter's answer to a ramp, r(t) = t - tau (1 - exp(-t / tau)). `delay_s` is the whole delay at low
    frequencies, so the filter's own tau = 1 / (2 pi corner) counts in it. The taps add up to 1.
    ValueError: the delay is shorter than tau, or longer than the taps reach.
    """
    tau = 0.0 if corner_hz is None else 1.0 / (2.0 * pi * corner_hz)
    pure = delay_s - tau
    if pure < -1e-12:
        raise ValueError(f"a delay of {delay_s:g} s is shorter than the {tau:g} s of a corner at {corner_hz:g} Hz")
    count = ceil((pure + _SETTLED * tau) / sample_s) + 2
    if count > _TAPS_MAX:
        raise ValueError(f"a delay of {delay_s:g} s is too long for samples of {sample_s:g} s")
    times = (np.arange(-1, count + 1) * sample_s) - max(pure, 0.0)
    late = np.maximum(times, 0.0)
    ramp = late - tau * (1.0 - np.exp(-late / tau)) if tau else late
    taps: NDArray[np.float64] = np.diff(ramp, 2)
    taps /= taps.sum()
    return taps


class FrontEnd:
    """The sensors and converter of one group of evenly sampled channels."""

    def __init__(
        self, channels: Sequence[ChannelDescription], sample_s: float, draw: np.random.Generator | None
    ) -> None:
        self._draw = draw
        self._low = _column([channel.code_low for channel in channels])
        self._high = _column([channel.code_high for channel in channels])
        scale = _column([channel.scale for channel in channels])
        offset = _column([channel.offset for channel in channels])
        self.gain_errors = np.zeros_like(scale)
        self.offset_error_codes = np.zeros_like(scale)
        self.delays_s = _column([channel.delay_ns * 1e-9 for channel in channels])
        self._noise = _column([channel.noise_codes_rms or 0.0 for channel in channels])
        self._taps = np.ones((len(channels), 1))
        if draw is not None:
            self.gain_errors = _within(draw, [channel.gain_limit for channel in channels])
            self.offset_error_codes = _within(draw, [channel.offset_limit_codes for channel in channels])
            limits_ns = [channel.delay_limit_ns for channel in channels]
            self.delays_s = self.delays_s + 1e-9 * _within(draw, limits_ns)
            self._taps = self._all_taps(channels, sample_s)
        self._slope = (1.0 + self.gain_errors) / scale
        self._shift = self.offset_error_codes - offset / scale  # a gain error leaves zero volts or amperes alone
        self._past: NDArray[np.float64] | None = None

    def _all_taps(self, channels: Sequence[ChannelDescription], sample_s: float) -> NDArray[np.float64]:
        rows = [
            filter_taps(float(delay_s[0]), channel.corner_high_hz, sample_s)
            for delay_s, channel in zip(self.delays_s, channels, strict=True)
        ]
        longest = max(len(row) for row in rows)
        return np.array([np.pad(row, (0, longest - len(row))) for row in rows])

    def codes(self, values: NDArray[np.float64]) -> NDArray[np.int32]:
        """The codes of the next sample sets: (channels, sets) in SI units to (sets, channels), C order."""
        scaled = self._filtered(values) * self._slope + self._shift
        if self._draw is not None:
            scaled += self._noise * self._draw.standard_normal(scaled.shape)
        held = np.clip(np.rint(scaled), self._low, self._high)
        return np.ascontiguousarray(held.T.astype(np.int32))

    def _filtered(self, values: NDArray[np.float64]) -> NDArray[np.float64]:
        past_count = self._taps.shape[1] - 1
        if past_count == 0 or values.shape[1] == 0:
            return values
        if self._past is None:  # before power-on the signal stood where its first sample finds it
            self._past = np.repeat(values[:, :1], past_count, axis=1)
        joined = np.concatenate((self._past, values), axis=1)
        self._past = joined[:, -past_count:]
        count = values.shape[1]
        filtered = self._taps[:, :1] * values
        for m in range(1, past_count + 1):
            filtered += self._taps[:, m : m + 1] * joined[:, past_count - m : past_count - m + count]
        return filtered


def _column(numbers: Sequence[float]) -> NDArray[np.float64]:
    return np.array(numbers, dtype=np.float64)[:, np.newaxis]


def _within(draw: np.random.Generator, limits: Sequence[float | None]) -> NDArray[np.float64]:
    """One error for each channel, evenly drawn between minus and plus its limit."""
    return _column([0.0 if limit is None else limit for limit in limits]) * draw.uniform(-1.0, 1.0, (len(limits), 1))
