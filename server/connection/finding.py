"""What the check of the connections says of one thing. Records only."""

from dataclasses import dataclass
from enum import StrEnum


class Correctness(StrEnum):
    """`unknown`: can't be told yet, and the finding says what would tell."""

    RIGHT = "right"
    WRONG = "wrong"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that was looked at. `sensor` and `place` name the point it belongs to, both empty for all together.

    `text`: a sentence with its figures; `change`: what to change, or what would tell; empty where it is right.
    `sure`: no braking or driven motor can look like this. `doubts`: places of the powers that rest on it, while it is
    wrong, and `doubt` the reason that stands with them.
    """

    key: str
    sensor: str
    place: str
    verdict: Correctness
    text: str
    change: str = ""
    sure: bool = False
    doubt: str = ""
    doubts: tuple[str, ...] = ()

    @property
    def id(self) -> tuple[str, str, str]:
        """Which thing it is."""
        return self.key, self.sensor, self.place
