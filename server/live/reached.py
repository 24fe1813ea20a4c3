"""How fast a play really goes whose pace is more than this PC can compute. Pure."""

from dataclasses import dataclass
from math import inf

OVER_S = 2.0  # of our time: over so long it is measured
FREE_S = 5.0  # without a lag: it keeps its pace


@dataclass(slots=True)
class Reached:
    """Tell it each time that a play is behind its pace, and when it is not; `pace`: what it reaches, None: all."""

    pace: float | None = None
    _late_utc_s: float = -inf
    _from: tuple[float, float] | None = None  # place in the run, our time

    def behind(self, at_utc_s: float, now_utc_s: float) -> None:
        """It is at this place and should be further."""
        self._late_utc_s = now_utc_s
        if self._from is None or now_utc_s < self._from[1] or at_utc_s < self._from[0]:
            self._from = at_utc_s, now_utc_s
        elif now_utc_s - self._from[1] >= OVER_S:
            self.pace = (at_utc_s - self._from[0]) / (now_utc_s - self._from[1])
            self._from = at_utc_s, now_utc_s

    def in_time(self, now_utc_s: float) -> None:
        """It waits for its time: for long enough, and it keeps its pace. Just behind a lag it always waits a moment."""
        if now_utc_s - self._late_utc_s >= FREE_S:
            self.anew()

    def anew(self) -> None:
        """It is somewhere else, or goes at another pace: what was measured no longer holds."""
        self.pace = self._from = None
