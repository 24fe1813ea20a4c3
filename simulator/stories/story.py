"""What happens when: a story as data, and the way to write a slow change as steps."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TypeAlias

Step: TypeAlias = tuple[float, Mapping[str, float]]


@dataclass(frozen=True, slots=True)
class Story:
    """At each time (seconds since the story began) the named controls take their values; then it ends.

    The first step is at 0 and sets every control that the stories of this motor use, so that a story
    plays alike alone and after any other. ValueError: times fall back or leave the story.
    """

    name: str
    description: str
    steps: tuple[Step, ...]
    duration_s: float

    def __post_init__(self) -> None:
        times = [time_s for time_s, _ in self.steps]
        if not times or times[0] != 0 or times != sorted(times) or times[-1] >= self.duration_s:
            raise ValueError(f"story {self.name!r}: steps go from 0 to before {self.duration_s:g} s, in order")


RAMP_STEP_S = 0.02  # a hand on a knob, or a slow set point: fine enough to look smooth in every picture


def ramp(control: str, at_s: float, over_s: float, start: float, end: float) -> tuple[Step, ...]:
    """`control` from `start` to `end` in even steps of 20 ms, beginning at `at_s`.

    >>> ramp("duty", 1.0, 0.04, 0.0, 0.2)
    ((1.02, {'duty': 0.1}), (1.04, {'duty': 0.2}))
    """
    count = max(1, round(over_s / RAMP_STEP_S))
    return tuple(
        (round(at_s + over_s * k / count, 6), {control: round(start + (end - start) * k / count, 6)})
        for k in range(1, count + 1)
    )
