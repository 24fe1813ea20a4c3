"""One line of what is kept, as samples at places in time, and what its channel may be off by. Pure."""

from dataclasses import dataclass
from math import ceil, floor, inf, sqrt

import numpy as np
from numpy.typing import NDArray

from server.live.pair import Line
from server.quantities.layout import Row
from server.quantities.spread import Spread, silent, spreads_of
from server.samples import Channel

_ON = 1e-6  # of a step: so near to a sample is on it
_NO_NOISE = "the board states no noise for it"


@dataclass(frozen=True, slots=True)
class Wave:
    """`values` (samples,), NaN where missing; the first one was taken at `first_s`, board time, the delay of its
    channel taken off."""

    channel: Channel
    values: NDArray[np.float64]
    clipped: NDArray[np.bool_]
    first_s: float
    rate_hz: float

    def place(self, board_s: float) -> float:
        """Of a moment, in samples from the first one."""
        return (board_s - self.first_s) * self.rate_hz

    def holds(self, *moments_s: float) -> bool:
        return all(0.0 <= self.place(each) <= self.values.size - 1 for each in moments_s)

    def stretch(self, from_s: float, to_s: float) -> slice:
        """Every sample that says something of what is between two moments."""
        return slice(floor(self.place(from_s)), ceil(self.place(to_s)) + 1)

    def trouble(self, from_s: float, to_s: float) -> str:
        """Why there is no number of a stretch, or empty."""
        if not self.holds(from_s, to_s):
            return "a point is outside of what was kept"
        missing = int(np.isnan(self.values[self.stretch(from_s, to_s)]).sum())
        return f"{missing} samples are missing between the points" if missing else ""

    def doubt(self, from_s: float, to_s: float) -> str:
        """Why to doubt its numbers, or empty."""
        reached = self.clipped[self.stretch(from_s, to_s)].any()
        return f"{self.channel.name} reached the end of its range" if reached else ""

    def spread(self, rms: float, samples: float, delayed: bool = True) -> Spread:
        """What it may be off by over so many samples: noise as the board states it, the rest by its channel's limits.

        What flowed between the points flowed: unlike a reading of a window, only noise of the board makes it uncertain.
        Its delay moves both ends, and must be known unless `delayed` says that it plays no part.
        """
        row = Row(self.channel, "", self.channel.least, True, False, False)
        noise = self.channel.noise_rms
        if noise is None:
            return silent(row, _NO_NOISE)
        found = spreads_of((row,), [noise], [noise], inf, [rms], max(samples, 1.0))[0]
        return silent(row, found.why_no_angle) if delayed and found.why_no_angle else found


def wave_of(line: Line) -> Wave:
    """All that is held of a line."""
    ring, channel = line.ring, line.channel
    values = ring.values[line.row].astype(np.float64)
    return Wave(channel, values, ring.clipped[line.row], ring.first_s - channel.delay_s, ring.rate_hz)


def in_step(wave: Wave, other: Wave) -> NDArray[np.float64]:
    """The other line at the moments of the samples of the first, on the cubic through four samples (straight beside a
    gap and at the ends), NaN outside: a straight line would lose a ten-thousandth of 50 Hz at 10 kS/s."""
    places = (wave.first_s + np.arange(wave.values.size) / wave.rate_hz - other.first_s) * other.rate_hz
    whole = np.floor(places + _ON).astype(np.intp)
    share = np.maximum(places - whole, 0.0)
    share[share < _ON] = 0.0
    padded = np.concatenate((np.full(2, np.nan), other.values, np.full(3, np.nan)))
    k = np.clip(whole, -1, other.values.size) + 2
    before, here, following, last = (padded[np.clip(k + step, 0, padded.size - 1)] for step in (-1, 0, 1, 2))
    straight = np.where(share == 0.0, here, here + share * (following - here))
    weights = (
        -share * (share - 1) * (share - 2) / 6,
        (share + 1) * (share - 1) * (share - 2) / 2,
        -(share + 1) * share * (share - 2) / 2,
        (share + 1) * share * (share - 1) / 6,
    )  # of Lagrange's cubic
    cubic = sum(w * v for w, v in zip(weights, (before, here, following, last), strict=True))
    return np.where((share == 0.0) | np.isnan(cubic), straight, cubic)


def rectangular(half_width: float) -> float:
    """The standard uncertainty of what is anywhere between two ends (JCGM 100, 4.3.7)."""
    return half_width / sqrt(3.0)
