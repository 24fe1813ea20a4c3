"""How often intervals hold the truth, and how wide they are beside what the values are really off by."""

from collections import Counter
from dataclasses import dataclass, field
from math import hypot

import numpy as np

from server.config import Plate
from server.motors import motor_type
from server.quantities import window_readings
from server.readings import Confidence, Reading
from tests.coverage.cases import case

LIMITS = ("gain", "offset", "delay", "board's clock", "step", "peak between", "squares")  # parts that are no scatter
NARROW, WIDE = "scatter", "limits"
FEW = 100  # intervals of a quantity: fewer say nothing
WIDEST = 1.5


@dataclass
class Count:
    """Of one quantity: intervals, how many hold the truth, and each error over the half width of its interval."""

    intervals: int = 0
    held: int = 0
    shares: list[float] = field(default_factory=list)

    def take(self, reading: Reading, truth: float) -> None:
        assert reading.uncertainty is not None
        assert isinstance(reading.value, float)
        sure = reading.uncertainty
        self.count(sure.low <= truth <= sure.high, abs(reading.value - truth), sure.half)

    def take_list(self, reading: Reading, truths: tuple[float, ...]) -> None:
        """Each value of a list with the half width of its own interval."""
        assert reading.uncertainty is not None
        assert isinstance(reading.value, tuple)
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

    def add(self, seed: int, number: int) -> None:
        """Measure case `number` of this seed."""
        draw = np.random.default_rng((seed, number))
        three_phase = number % 2 == 1
        made = case(draw, three_phase)
        motor = motor_type("three_phase_induction" if three_phase else "permanent_split_capacitor")
        for reading in window_readings(made.window, motor, Plate(pole_pairs=2)):
            truth, orders = made.truth.get(reading.id), made.lists.get(reading.id)
            if truth is None and orders is None:
                continue
            self.known.add(reading.key)
            if reading.uncertainty is None or reading.confidence is not Confidence.GOOD or reading.least is not None:
                self.without[reading.key, reading.reason or ("small" if reading.least else "no interval")] += 1
            else:
                count = self.counts.setdefault((reading.key, _ruled_by(reading)), Count())
                if orders is not None:
                    count.take_list(reading, orders)
                elif truth is not None:
                    count.take(reading, truth)


def _ruled_by(reading: Reading) -> str:
    """Whether the largest part that is a limit is below half of the whole."""
    assert reading.uncertainty is not None
    parts = reading.uncertainty.parts
    largest = max((standard for source, standard in parts if source.startswith(LIMITS)), default=0.0)
    return NARROW if largest < 0.5 * hypot(*[standard for _, standard in parts]) else WIDE


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
        chance = 3.0 * (0.95 * 0.05 / self.count.intervals) ** 0.5
        low, high = (0.935, 0.965) if self.by == NARROW else (0.93, 1.0)
        held = low - chance <= self.count.coverage <= high + chance
        return not held or self.count.width > WIDEST * (1.0 + 2.0 * chance)

    @property
    def row(self) -> str:
        mark = " WRONG" if self.wrong else "" if self.count.intervals >= FEW else " (few)"
        figures = f"{self.count.intervals:11}{100 * self.count.coverage:12.1f}{self.count.width:8.2f}"
        return f"{self.key:34}{self.by:>10}{figures}{mark}"


def unjudged(tally: Tally, least: int) -> list[str]:
    """Quantities whose truth the cases know and of which fewer intervals were made than they should have."""
    made: Counter[str] = Counter()
    for (key, _), count in tally.counts.items():
        made[key] += count.intervals
    return sorted(key for key in tally.known if made[key] < least)


def verdicts(tally: Tally) -> list[Verdict]:
    """In the order of the quantities' names."""
    return [Verdict(key, by, count) for (key, by), count in sorted(tally.counts.items())]
