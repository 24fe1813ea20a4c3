"""What happens when: a story as data, in steps that have been checked and spread out in time."""

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Step:
    """From `time_s` (seconds since the story began) the controls have these values, and the faults are these.

    `faults` None: as before. `line` is where it stands in its file.
    """

    time_s: float
    controls: Mapping[str, float]
    faults: tuple[str, ...] | None = None
    line: int = 0


@dataclass(frozen=True, slots=True)
class Story:
    """The first step is at 0 and sets every control of the motor, so a story plays alike alone and after any other."""

    name: str
    description: str
    steps: tuple[Step, ...]
    duration_s: float
    file: str = ""
    damage: Mapping[str, float] | None = None  # to the wire: chances by kind
    alone: bool = False  # played only when it is chosen: a night would never let the next one come

    @property
    def faults(self) -> frozenset[str]:
        """All faults that come in this story."""
        return frozenset(fault for step in self.steps for fault in step.faults or ())
