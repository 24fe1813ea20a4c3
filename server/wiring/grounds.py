"""All that verdicts on wiring stand on, worked out once from a stretch of edges and visits. Pure."""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from server.hall.tail import Tail
from server.wiring.course import Course, course_of, fluxes_of, induced_of
from server.wiring.follows import Follows, follows
from server.wiring.leads import OffBy
from server.wiring.lines import Lines, lines_of
from server.wiring.names import UNNAMED, Names
from server.wiring.torque import fractions
from server.wiring.visits import Visits


@dataclass(frozen=True, slots=True)
class Known:
    """What person and plate say.

    `turned_forward`: which way it was turned, None where not said; `counted`: marked turns of the shaft and the edges
    that came in them, the newest last; `spacing_deg`: of the drive's table; `supply_a`, `supply_v`: of the sensors'
    supply, `sensor_rated_v` what they are for; `rated_a`: of the motor.
    """

    names: Names = UNNAMED
    turned_forward: bool | None = None
    spacing_deg: int = 120
    pole_pairs: int | None = None
    supply_a: float | None = None
    supply_v: float | None = None
    sensor_rated_v: float | None = None
    counted: tuple[tuple[int, int], ...] = ()
    rated_a: float | None = None


NOTHING_SAID = Known()


@dataclass(frozen=True)
class Grounds:
    """`visits` since the stretch began, oldest first, glitches taken out; `edges`: all, glitches too; `levels`: of A,
    B, C now, None where not known. `driven_s`: how much of `lasted_s` current flowed, `driven_spans` when, from tick to
    tick. `probed`: the leads' voltages are measured; `least_v`: the spread that they need, `most_v`: the greatest so
    far, `swept_deg`: electrical degrees that the shaft turned by them, net; `off_by`: what they may be off by. Edges
    are known to `end_tick`. `contradict`: by how much the channels last differed from what any three leads could
    show. `powered`: what ran under power, gathered apart, where nothing was turned."""

    visits: Visits
    edges: Tail
    levels: int | None
    lasted_s: float
    driven_s: float
    uncertain: bool
    tick_hz: float
    probed: bool
    least_v: float
    most_v: float
    known: Known = NOTHING_SAID
    swept_deg: float = 0.0
    off_by: OffBy | None = None
    end_tick: int = 0
    driven_spans: tuple[tuple[int, int], ...] = ()
    contradict: float | None = None
    powered: "Grounds | None" = None

    @cached_property
    def course(self) -> Course:
        """Order, sense and distance."""
        return course_of(self.visits)

    @cached_property
    def under_power(self) -> "Grounds":
        """Only what came while current flowed: a shaft that a hand turned before or after shows nothing of a drive."""
        begin, end = self.visits.begin_tick, self.visits.end_tick
        whole, ticks = np.zeros(begin.shape[0], np.bool_), self.edges.ticks
        within = np.zeros(ticks.shape[0], np.bool_)
        for since, until in self.driven_spans:
            whole |= (begin >= since) & (end <= until)
            within |= (ticks >= since) & (ticks <= until)
        edges = replace(self.edges, ticks=ticks[within], states=self.edges.states[within], before=None)
        return replace(self, visits=self.visits.where(whole), edges=edges)

    @cached_property
    def lines(self) -> Lines:
        """What each Hall line did."""
        return lines_of(self.visits, self.tick_hz)

    @property
    def look_s(self) -> float:
        """How far apart the board's looks at its inputs are, at most; 0 where each edge carries its own time."""
        return self.edges.look_ticks / self.tick_hz if self.edges.look_ticks > 1 else 0.0

    @cached_property
    def induced(self) -> int:
        """Edges in visits whose voltages were loud enough: what torque fractions stand on."""
        return induced_of(self.visits, self.course)

    @cached_property
    def follows(self) -> Follows | None:
        """How the voltages go with the speed; None where that can't be told."""
        return follows(self.visits, self.course)

    @cached_property
    def changes(self) -> tuple[int, int, int]:
        """Edges of A, B and C, glitches too."""
        states = self.edges.states
        was = states[:1] if self.edges.before is None else np.array([self.edges.before])
        flipped = np.concatenate((was, states[:-1])) ^ states
        a, b, c = (int(np.count_nonzero(flipped >> bit & 1)) for bit in range(3))
        return a, b, c

    def fractions(self, spacing_deg: int = 120) -> NDArray[np.float64]:
        """Torque fractions of all arrangements, as `torque.fractions`."""
        return fractions(fluxes_of(self.visits, self.course).filled(), spacing_deg)
