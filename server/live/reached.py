"""How fast a play really goes whose pace is more than this PC can compute. Pure."""

from dataclasses import dataclass

OVER_S = 2.0  # of our time: over so long it is measured


@dataclass(slots=True)
class Reached:
    """Tell it each time that a play is behind its pace, and when it is not; `pace`: what it reaches, None: all."""

    pace: float | None = None
    _from: tuple[float, float] | None = None  # place in the run, our time

    def behind(self, at_utc_s: float, now_utc_s: float) -> None:
        """It is at this place and should be further."""
        if self._from is None or now_utc_s < self._from[1] or at_utc_s < self._from[0]:
            self._from = at_utc_s, now_utc_s
        elif now_utc_s - self._from[1] >= OVER_S:
            self.pace = (at_utc_s - self._from[0]) / (now_utc_s - self._from[1])
            self._from = at_utc_s, now_utc_s

    def kept(self) -> None:
        """It waits for its time, or is somewhere else: what was measured no longer holds."""
        self.pace = self._from = None
