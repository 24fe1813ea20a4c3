"""The current of a start: its highest peak and its highest half-cycle RMS. Pure functions on arrays of samples."""

from dataclasses import dataclass, replace
from math import hypot, sqrt

import numpy as np
from numpy.typing import NDArray

from server.duty.cycle import Bound, Figure
from server.quantities.uncertainty import NORMAL_95
from server.samples import Channel

DIRECT_S = 0.01  # what stands for half a cycle where the supply has none
TAIL_S = (
    0.05  # of samples kept before a window: a start is told up to 20 ms after it began, and half a cycle of 16.7 Hz
)
_MISSING = "samples of the start are missing"
_CLIPPED = "the current reached the end of its range"


def highest_rms(values: NDArray[np.float64], samples: int) -> float:
    """The highest RMS over `samples` samples in turn, wherever they begin; NaN where there are fewer. `values`: (n,)"""
    if values.shape[0] < samples or samples < 1:
        return float("nan")
    sums = np.concatenate(((0.0,), np.cumsum(np.square(values))))
    return sqrt(max(float((sums[samples:] - sums[:-samples]).max()), 0.0) / samples)


@dataclass(frozen=True, slots=True)
class Inrush:
    """What has been seen of a start so far: amperes, and why they may be too low."""

    peak_a: float = 0.0
    half_cycle_a: float = 0.0
    reason: str = ""


def seen(so_far: Inrush, values: NDArray[np.float64], half_cycle: int, missing: bool, clipped: bool) -> Inrush:
    """With a stretch of samples more, (n,), NaN where one did not come; `half_cycle` in samples."""
    known = values[~np.isnan(values)]
    if missing or clipped:
        reasons = (so_far.reason, _MISSING if missing else "", _CLIPPED if clipped else "")
        so_far = replace(so_far, reason="; ".join(dict.fromkeys(each for each in reasons if each)))
    if not known.size:
        return so_far
    rms = highest_rms(np.nan_to_num(values), half_cycle)  # a sample that is missing adds nothing: it is at least this
    return Inrush(
        max(so_far.peak_a, float(np.abs(known).max())),
        max(so_far.half_cycle_a, 0.0 if rms != rms else rms),
        so_far.reason,
    )


def figures(inrush: Inrush, channel: Channel) -> dict[str, Figure]:
    """Peak and half-cycle RMS, each with what the channel may be off by."""
    bound = Bound.LEAST if inrush.reason else Bound.NONE
    return {
        "inrush_peak_a": _figure(inrush.peak_a, channel, channel.noise_rms or 0.0, inrush.reason, bound),
        "inrush_half_cycle_a": _figure(inrush.half_cycle_a, channel, 0.0, inrush.reason, bound),
    }


def _figure(value: float, channel: Channel, noise: float, reason: str, bound: Bound) -> Figure:
    """Its gain and offset err as stated; noise of one sample is in a peak, and as good as none in an RMS."""
    if value <= 0.0:
        return Figure(None, reason="no current of the start was seen")
    if channel.gain is None or reason:
        return Figure(value, None, reason, bound)
    offset = 0.0 if channel.offset_error is None else channel.offset_error.standard
    return Figure(value, NORMAL_95 * hypot(channel.gain.standard * value, offset, noise), "", bound)
