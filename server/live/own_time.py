"""The time of a rig whose software board lives faster or slower than we do. Pure."""

from dataclasses import dataclass
from math import inf


@dataclass(frozen=True, slots=True)
class OwnTime:
    """`pace` seconds of the board pass in one of ours. Both times agree at `since_utc_s`; a real board's always do.

    Of a run that is played, `ahead_s`: by how much its time is ahead of ours at that moment; `most_utc_s`: how far it
    has been computed. Its time stands there until more is, so that it never has to go back.
    """

    pace: float = 1.0
    since_utc_s: float = 0.0
    ahead_s: float = 0.0
    most_utc_s: float = inf

    def of(self, utc_s: float) -> float:
        """The rig's time, where the service's clock says `utc_s`."""
        return min(self.due(utc_s), self.most_utc_s)

    def due(self, utc_s: float) -> float:
        """What it should be at that pace, however far it has been computed."""
        return self.since_utc_s + self.ahead_s + (utc_s - self.since_utc_s) * self.pace

    @property
    def hurry(self) -> float:
        """How many of the rig's seconds are one second in which a board must be heard of: a slow one needs longer."""
        return max(1.0, self.pace)


REAL_TIME = OwnTime()
