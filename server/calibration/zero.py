"""What a channel reads with nothing connected. Pure."""

from math import sqrt

import numpy as np
from numpy.typing import NDArray

from firmware_protocol import Role, SampleKind
from server.calibration.entry import What
from server.calibration.found import Found, Side, UnfitError, called, known, of_part, u95
from server.calibration.stretch import PIECES, Stretch
from server.quantities.uncertainty import Standard
from server.samples import Channel

_NOISES_MAX = 3.0  # beside its mean a channel with nothing connected shows its noise, and this much of it at most
_SPREAD_SHARE_MAX = 0.005  # of the range where no noise is stated: common practice, no published source
_LIMITS_MAX = 2.0  # of the stated offset limit: beyond, something is connected, or the channel is broken
_MEAN_SHARE_MAX = 0.05  # of the range where no limit is stated: common practice, no published source
_DRIFT_SHARE_MAX = 0.001  # of the range in three seconds: it has not settled
_CLEAR = 4.0  # standard uncertainties of a slope: scatter alone does not reach that


def find_zero(channel: Channel, stretch: Stretch) -> Found:
    """The mean of the last seconds, which is to be taken away. Raises UnfitError.

    Uncertainty: scatter of the pieces' means (JCGM 100, 4.2.3), drift within the stretch (evenly between its ends,
    4.3.7), half a step where noise does not round it away (F.2.2.1).
    """
    row = _fit(channel, stretch)
    seen = stretch.seen(row)
    mean, spread = float(seen.mean.mean()), float(np.sqrt((seen.spread**2).mean()))
    _nothing_connected(channel, mean, spread)
    drift = _drift(seen.mean)
    scatter = float(seen.mean.std(ddof=1)) / sqrt(PIECES)
    span = max(abs(channel.low), abs(channel.high))
    if abs(drift) > _DRIFT_SHARE_MAX * span:
        raise UnfitError(
            f"{called(channel)} moved by {drift:.2g} {channel.unit} in three seconds; let the board "
            "warm up, then try again"
        )
    parts: list[Standard] = [("scatter over three seconds", scatter, PIECES - 1.0)]
    if drift:
        parts.append(("drift over three seconds", abs(drift) / sqrt(12.0), float("inf")))
    if spread < 0.5 * channel.step:
        parts.append(("half a step of the converter", channel.step / sqrt(12.0), float("inf")))
    after = u95(parts)
    before = Side(mean, known(of_part(channel.offset_error, 1.0, "zero")))
    return Found(What.ZERO, mean, parts, before, Side(0.0, after), Side(0.0, 0.0))


def _fit(channel: Channel, stretch: Stretch) -> int:
    if channel.ac_coupled:
        raise UnfitError(f"{called(channel)} passes no direct current: it has no zero that could be set")
    if channel.kind is SampleKind.RMS:
        raise UnfitError(f"{called(channel)} sends RMS values, which are never below zero: it has no zero to be set")
    if channel.role not in (Role.VOLTAGE, Role.CURRENT):
        raise UnfitError(f"{called(channel)} is neither voltage nor current: nothing connected is not zero there")
    return settled(channel, stretch)


def settled(channel: Channel, stretch: Stretch) -> int:
    """The row of a channel that has sent three seconds without a gap, and did not clip. Raises UnfitError."""
    row = stretch.row(channel)
    if row is None or not stretch.full:
        raise UnfitError(f"three seconds of {called(channel)} without a gap are needed; wait a moment")
    if stretch.clipped(row):
        raise UnfitError(
            f"{called(channel)} clipped: its range is {channel.low:.4g} to {channel.high:.4g} {channel.unit}; "
            "take less, then try again"
        )
    return row


def _nothing_connected(channel: Channel, mean: float, spread: float) -> None:
    span = max(abs(channel.low), abs(channel.high))
    noise = channel.noise_rms
    most = max(_NOISES_MAX * noise, channel.step) if noise is not None else _SPREAD_SHARE_MAX * span
    unit, name = channel.unit, called(channel)
    if spread > most:
        stated = f"its noise is stated as {noise:.2g} {unit}" if noise is not None else "that is more than noise"
        raise UnfitError(
            f"{name} is not at rest: it varies by {spread:.3g} {unit} RMS, and {stated}; disconnect it, then try again"
        )
    limit = channel.offset_limit
    most = _LIMITS_MAX * limit if limit is not None else _MEAN_SHARE_MAX * span
    if abs(mean) > most:
        stated = f"the board states {limit:.2g} {unit} at most" if limit is not None else "that is much for a zero"
        raise UnfitError(
            f"{name} reads {mean:.3g} {unit}, and {stated}; is something connected? Disconnect it, then try again"
        )


def _drift(means: NDArray[np.float64]) -> float:
    """From the first to the last piece, along the straight line that fits best; 0 where scatter alone may be that."""
    places = np.arange(means.size) - (means.size - 1) / 2.0
    squares = float(places @ places)
    slope = float(places @ means) / squares
    rest = means - means.mean() - slope * places
    standard = sqrt(float(rest @ rest) / (means.size - 2) / squares)
    return slope * (means.size - 1) if abs(slope) > _CLEAR * standard else 0.0
