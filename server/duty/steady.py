"""What a motor draws and how fast it turns once it runs: means over the windows of a cycle in which it ran. Pure."""

from dataclasses import dataclass, replace
from math import inf

from server.duty.cycle import Figure
from server.readings import Confidence, Reading

NEVER = "it did not run steadily for a whole window"


@dataclass(frozen=True, slots=True)
class Mean:
    """Of one reading. `halves`: sum of half widths of its intervals, NaN once one of them was not known.

    What limits leave open is the same in all windows and does not average out, so their mean is kept, not less.
    """

    count: int = 0
    total: float = 0.0
    halves: float = 0.0
    low: float = inf
    high: float = -inf
    doubt: str = ""  # of the newest that was not good

    def take(self, reading: Reading | None) -> "Mean":
        """With the reading of one window more."""
        if reading is None:
            return self
        if reading.confidence is not Confidence.GOOD or not isinstance(reading.value, float):
            return replace(self, doubt=reading.reason)
        value, sure = reading.value, reading.uncertainty
        half = float("nan") if sure is None else sure.half
        low, high = min(self.low, value), max(self.high, value)
        return Mean(self.count + 1, self.total + value, self.halves + half, low, high, self.doubt)

    @property
    def value(self) -> float | None:
        return self.total / self.count if self.count else None

    def figure(self) -> Figure:
        """The mean with its interval."""
        if not self.count:
            return Figure(None, reason=self.doubt or NEVER)
        half = self.halves / self.count
        return Figure(self.total / self.count, None if half != half else half)

    def spread(self) -> Figure:
        """Highest less lowest, in per cent of the mean."""
        if not self.count or not self.total:
            return Figure(None, reason=self.doubt or NEVER)
        return Figure(100.0 * (self.high - self.low) / abs(self.total / self.count))
