"""All that verdicts on wiring stand on, worked out once from the visits of a stretch. Pure."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from server.wiring.course import Course, course_of, fluxes_of
from server.wiring.names import UNNAMED, Names
from server.wiring.torque import fractions
from server.wiring.visits import Visits


@dataclass(frozen=True, slots=True)
class Inputs:
    """What the three inputs did in the stretch: `changes` of each (A, B, C), the levels they have now (None: unknown),
    edges taken out as glitches, and how long the stretch was."""

    changes: tuple[int, int, int]
    levels: int | None
    glitches: int
    lasted_s: float


@dataclass(frozen=True)
class Grounds:
    """`visits` since the stretch began, oldest first; `inputs` likewise.

    `probed`: the leads' voltages are measured; `least_v`: the spread that they need, `most_v`: the greatest so far.
    `turned_forward`: the person has said which way it was turned: True forward, False backward, None not said.
    `spacing_deg`: of the drive's table; `names`: what the person calls the wires; `timed`: edges carry their own times
    (False: they are as fine as the samples).
    """

    visits: Visits
    inputs: Inputs
    tick_hz: float
    probed: bool = False
    least_v: float = 0.0
    most_v: float = 0.0
    turned_forward: bool | None = None
    spacing_deg: int = 120
    pole_pairs: int | None = None
    names: Names = UNNAMED
    timed: bool = True

    @cached_property
    def course(self) -> Course:
        """Order, sense and distance."""
        return course_of(self.visits)

    @cached_property
    def induced(self) -> int:
        """Edges in visits whose voltages were loud enough: what torque fractions stand on."""
        return int(np.count_nonzero((self.course.sense != 0) & (self.visits.loud > 0.0)))

    def fractions(self, spacing_deg: int = 120) -> NDArray[np.float64]:
        """Torque fractions of all arrangements, as `torque.fractions`."""
        return fractions(fluxes_of(self.visits, self.course).filled(), spacing_deg)
