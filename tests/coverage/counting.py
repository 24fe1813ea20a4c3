"""How often intervals hold the truth, and how wide they are beside what the values are really off by."""

import re
from array import array
from collections import Counter
from dataclasses import dataclass, field
from math import hypot

import numpy as np

from server.quantities.uncertainty import NORMAL_95
from server.readings import Confidence, Reading
from tests.coverage.told import Family

LIMITS = (  # parts that are no scatter
    *("gain", "offset", "delay", "board's clock", "step", "peak ", "squares", "limits of the channels"),
    *("fall towards", "where the sensors sit", "speed changing", "winding warmer", "drop of the brushes"),
    "straight lines",
)
NARROW, WIDE = "scatter", "limits"
_NUMBER = re.compile(r"\d[\d.e-]*")
FEW = 30  # readings of a quantity: fewer say nothing
WIDEST = 1.5


@dataclass
class Count:
    """Of one quantity: intervals, how many hold the truth, and each error over the half width of its interval."""

    intervals: int = 0
    readings: int = 0  # of a list all values rest on one noise
    held: int = 0
    shares: "array[float]" = field(default_factory=lambda: array("f"))

    def take(self, reading: Reading, truth: float) -> None:
        assert reading.uncertainty is not None
        assert isinstance(reading.value, float)
        sure = reading.uncertainty
        self.readings += 1
        self.count(sure.low <= truth <= sure.high, abs(reading.value - truth), sure.half)

    def take_list(self, reading: Reading, truths: tuple[float, ...]) -> None:
        """Each value of a list with the half width of its own interval."""
        assert reading.uncertainty is not None
        assert isinstance(reading.value, tuple)
        self.readings += 1
        for value, half, truth in zip(reading.value, reading.uncertainty.halves, truths, strict=True):
            self.count(abs(value - truth) <= half, abs(value - truth), half)

    def count(self, held: bool, error: float, half: float) -> None:
        self.intervals += 1
        self.held += held
        self.shares.append(error / max(half, 1e-300))

    @property
    def coverage(self) -> float:
        return self.held / self.intervals

    @property
    def width(self) -> float:
        """Of the intervals over the empirical one that holds 95 %: 1 is right, more is too wide."""
        return 1.0 / max(float(np.quantile(self.shares, 0.95)), 1e-300)


@dataclass
class Tally:
    """Counts by quantity and by what rules the interval; `without`: readings that had none, by reason; `known`:
    quantities whose truth was known."""

    counts: dict[tuple[str, str], Count] = field(default_factory=dict)
    without: Counter[tuple[str, str]] = field(default_factory=Counter)
    known: set[str] = field(default_factory=set)

    def add(self, family: Family, seed: int, number: int) -> None:
        """Measure case `number` of this seed."""
        for name, reading, truth in family(np.random.default_rng((seed, number)), number):
            self.known.add(name)
            if reading.uncertainty is None or reading.confidence is not Confidence.GOOD or reading.least is not None:
                self.without[
                    name, _NUMBER.sub("#", reading.reason) or ("small" if reading.least else "no interval")
                ] += 1
                continue
            count = self.counts.setdefault((name, _ruled_by(reading)), Count())
            if isinstance(truth, tuple):
                count.take_list(reading, truth)
            else:
                count.take(reading, truth)


def _ruled_by(reading: Reading) -> str:
    """Whether the largest part that is a limit is below half of the whole."""
    assert reading.uncertainty is not None
    parts = reading.uncertainty.parts
    largest = max((standard for source, standard in parts if source.startswith(LIMITS)), default=0.0)
    whole = reading.uncertainty.coverage_factor / NORMAL_95 * hypot(*[standard for _, standard in parts])
    return NARROW if largest < 0.5 * whole else WIDE  # few edges may seem to scatter little: their factor tells


@dataclass(frozen=True)
class Verdict:
    """Of one quantity where one kind of part rules: whether its intervals are what they say, within chance."""

    key: str
    by: str
    count: Count

    @property
    def wrong(self) -> bool:
        """Chance alone is given three standard deviations of so many tries; few tries say nothing."""
        if self.count.intervals < FEW:
            return False
        chance = 3.0 * (0.95 * 0.05 / self.count.readings) ** 0.5
        low, high = (0.935, 0.965) if self.by == NARROW else (0.93, 1.0)
        held = low - chance <= self.count.coverage <= high + chance
        return not held or self.count.width > WIDEST * (1.0 + 2.0 * chance)

    @property
    def row(self) -> str:
        mark = " WRONG" if self.wrong else "" if self.count.intervals >= FEW else " (few)"
        figures = f"{self.count.intervals:11}{100 * self.count.coverage:12.1f}{self.count.width:8.2f}"
        return f"{self.key:62}{self.by:>10}{figures}{mark}"


def unjudged(tally: Tally, least: int) -> list[str]:
    """Quantities whose truth the cases know and of which fewer intervals were made than they should have."""
    made: Counter[str] = Counter()
    for (key, _), count in tally.counts.items():
        made[key] += count.intervals
    return sorted(key for key in tally.known if made[key] < least)


def verdicts(tally: Tally) -> list[Verdict]:
    """In the order of the quantities' names."""
    return [Verdict(key, by, count) for (key, by), count in sorted(tally.counts.items())]
