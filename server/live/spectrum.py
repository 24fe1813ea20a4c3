"""The spectrum of the motor's current as a page asks for it, with marks where lines of this motor are expected. Pure.

Made of the newest stretch without a gap in which the motor did the same thing, at most a second, Hann-weighted. It is
a picture: what is measured in numbers are the readings.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from math import inf

import numpy as np
from numpy.typing import NDArray

from server.live.pair import Line
from server.live.steadiness import Steadiness
from server.motors import PredictedLine

STRETCH_MIN_S = 0.2  # a shorter one has lines wider than what they are to tell apart
_EDGE_S = 0.02  # a change is dated to a row or two
PADDED = 2  # times the stretch: a line between two others then reads at most 4 % low
COLUMNS_MAX = 2000
_STANDS_OUT = 4.0  # times the middle of its neighbours: noise does so once in ten thousand
_NEIGHBOURS = 40


@dataclass(frozen=True, slots=True)
class Spectrum:
    """RMS of a sine at each line, `step_hz` apart from 0 on; lines nearer than `resolution_hz` run into one."""

    step_hz: float
    resolution_hz: float
    rms: NDArray[np.float64]

    def mark(self, line: PredictedLine) -> dict[str, object]:
        """What stands at a predicted frequency, as near as the lines are wide."""
        at = round(line.hz / self.step_hz)
        near = max(PADDED, round(0.001 * at))
        low, high = max(at - near, 1), at + near + 1
        here = self.rms[low:high]
        height = float(here.max(initial=0.0))
        around = np.concatenate((self.rms[max(low - _NEIGHBOURS, 1) : low], self.rms[high : high + _NEIGHBOURS]))
        beside = np.concatenate((self.rms[max(low - 1, 1) : low], self.rms[high : high + 1]))
        is_peak = height > float(beside.max(initial=0.0))  # else it is the flank of a greater line
        stands = is_peak and height > _STANDS_OUT * float(np.median(around))
        return {
            "hz": round(line.hz, 3),
            "sign": line.sign,
            "name": line.name,
            "source": line.source,
            "rms": _short(height),
            "stands_out": stands,
        }


def spectrum_of(line: Line, since_s: float = -inf, change: str = "") -> Spectrum | str:
    """Of the newest stretch of a channel; in words why there is none.

    `since_s`: board time from which on the motor has done the same thing, by `change`.
    """
    ring = line.ring
    gaps = np.flatnonzero(ring.missing)
    whole = ring.count - (int(gaps[-1]) + 1 if gaps.size else 0)
    steady = ring.count
    if since_s <= ring.end_s:  # else of a board that has begun its time anew
        lasted_s = ring.end_s - since_s - _EDGE_S
        steady = int(min(max(lasted_s * ring.rate_hz, 0.0), ring.count))
    count = _good_length(min(whole, steady))
    if count < STRETCH_MIN_S * ring.rate_hz:
        what = f"since {change}" if steady < whole else "without a gap"
        return f"needs {STRETCH_MIN_S:g} s of samples {what}, {min(whole, steady) / ring.rate_hz:.2f} s so far"
    if ring.clipped[line.row, -count:].any():
        return "the channel reached the end of its range: its lines are not the motor's"
    values = ring.values[line.row, -count:].astype(np.float64)
    weights = 1.0 - np.cos(2.0 * np.pi / count * np.arange(count))
    values -= (values @ weights) / count
    values *= weights
    rms = np.abs(np.fft.rfft(values, PADDED * count)) * (np.sqrt(2.0) / count)
    return Spectrum(ring.rate_hz / (PADDED * count), 2.0 * ring.rate_hz / count, rms)


def spectrum_record(
    line: Line,
    to_hz: float,
    columns: int,
    predicted: Iterable[PredictedLine],
    fundamental_hz: float | None,
    steadiness: Steadiness | None = None,
) -> dict[str, object]:
    """The `GET .../spectrum` answer: the highest line of each column, so that none is lost, and the marks."""
    channel = line.channel
    found = spectrum_of(line, steadiness.since_s, steadiness.words) if steadiness else spectrum_of(line)
    head = {"role": channel.role.name.lower(), "place": channel.place, "unit": channel.unit}
    if isinstance(found, str):
        return {**head, "reason": found}
    lines = min(int(to_hz / found.step_hz) + 1, found.rms.shape[0])
    starts = np.unique(np.linspace(0, lines, min(columns, lines), endpoint=False).astype(np.intp))
    highest = np.maximum.reduceat(found.rms[:lines], starts)
    own = None if fundamental_hz is None else found.mark(PredictedLine(fundamental_hz, "", "", ""))["rms"]
    return {
        **head,
        "reason": "",
        "to_hz": (lines - 1) * found.step_hz,
        "resolution_hz": found.resolution_hz,
        "fundamental_rms": own,
        "rms": [_short(each) for each in highest.tolist()],
        "marks": [found.mark(each) for each in predicted],
    }


def _short(value: float) -> float:
    """Four digits are more than a drawing shows."""
    return float(f"{value:.4g}")


def _good_length(most: int) -> int:
    """The longest length up to `most` with no prime factor above 5: of others a transform takes ten times as long."""
    length = most
    while length > 1 and not _is_round(length):
        length -= 1
    return length


def _is_round(number: int) -> bool:
    for prime in (2, 3, 5):
        while number % prime == 0:
            number //= prime
    return number == 1
