"""What windows brought, gathered over a stretch that a person chose: from it the grounds of all verdicts. Pure."""

from collections import deque
from dataclasses import dataclass, field, replace

import numpy as np

from server.hall.tail import Tail
from server.wiring.course import course_of, induced_of
from server.wiring.following import Fresh
from server.wiring.grounds import Grounds, Known
from server.wiring.leads import OffBy
from server.wiring.visits import Visits, in_a_row, no_visits

VISITS_MAX, EDGES_MAX = 4_000, 20_000  # kept, the newest: more tells no more; two minutes of brisk turning by hand
SPANS_MAX = 500  # times of current, the newest
_PARTS = 64  # joined only when there are so many, or when they are asked for


@dataclass(slots=True)
class Stretch:
    """Since a person began. `tick_hz`, `least_v` of the board, `probed`: its leads are measured at all."""

    tick_hz: float
    probed: bool
    least_v: float
    levels: int | None = None
    first_tick: int | None = None
    end_tick: int = 0
    _visits: list[Visits] = field(default_factory=list)
    _edges: list[Tail] = field(default_factory=list)
    most_v: float = 0.0
    swept_deg: float = 0.0
    off_by: OffBy | None = None
    driven_ticks: int = 0
    _driven: deque[tuple[int, int]] = field(default_factory=lambda: deque(maxlen=SPANS_MAX))
    _was_driven: bool = False
    uncertain: bool = False
    contradict: float | None = None

    def take(self, fresh: Fresh) -> None:
        """One more window."""
        if self.first_tick is None:
            self.first_tick = fresh.first_tick
        whole = fresh.visits
        if whole.count and whole.begin_tick[0] < self.first_tick:
            whole = whole.where(whole.begin_tick >= self.first_tick)
        if whole.count:
            self._visits.append(whole)
        if fresh.edges.count or not self._edges:
            self._edges.append(fresh.edges)
        if len(self._visits) + len(self._edges) > _PARTS:
            self._visits, self._edges = [self._all_visits()], [_in_a_row(self._edges)]
        self.levels, self.end_tick = fresh.levels, fresh.end_tick
        self.swept_deg += fresh.swept_deg
        self.off_by = fresh.off_by
        self.contradict = self.contradict if fresh.contradict is None else fresh.contradict
        self.most_v = max(self.most_v, fresh.most_v or 0.0)
        if fresh.driven:
            self.driven_ticks += fresh.end_tick - fresh.first_tick
            since = self._driven.pop()[0] if self._was_driven else fresh.first_tick
            self._driven.append((since, fresh.end_tick))
        self._was_driven = fresh.driven
        self.uncertain |= fresh.uncertain

    def _all_visits(self) -> Visits:
        return in_a_row([no_visits(), *self._visits]).where(slice(-VISITS_MAX, None))

    def telling(self) -> int:
        """Edges that count: with voltage where it is measured."""
        visits = self._all_visits()
        course = course_of(visits)
        return induced_of(visits, course) if self.probed else course.edges

    def grounds(self, known: Known) -> Grounds:
        """Of the whole stretch so far, with what the person and the plate say."""
        lasted_s = (self.end_tick - (self.first_tick or 0)) / self.tick_hz if self.first_tick is not None else 0.0
        visits, edges = self._all_visits(), _in_a_row(self._edges)
        if visits.count == VISITS_MAX:
            edges = _since(edges, int(visits.begin_tick[0]))
        return Grounds(
            visits=visits,
            edges=edges,
            levels=self.levels,
            lasted_s=lasted_s,
            driven_s=self.driven_ticks / self.tick_hz,
            driven_spans=tuple(self._driven),
            uncertain=self.uncertain,
            tick_hz=self.tick_hz,
            probed=self.probed,
            least_v=self.least_v,
            most_v=self.most_v,
            known=known,
            swept_deg=self.swept_deg,
            off_by=self.off_by,
            end_tick=self.end_tick,
            contradict=self.contradict,
        )


def _in_a_row(parts: list[Tail]) -> Tail:
    if not parts:
        return Tail(np.zeros(0, np.int64), np.zeros(0, np.int64), None, 0, 0)
    ticks = np.concatenate([part.ticks for part in parts])
    states = np.concatenate([part.states for part in parts])
    return _cut(replace(parts[0], ticks=ticks, states=states), max(0, ticks.shape[0] - EDGES_MAX))


def _since(edges: Tail, tick: int) -> Tail:
    """Those of the same stretch of time as the visits that are kept."""
    return _cut(edges, int(edges.ticks.searchsorted(tick)))


def _cut(edges: Tail, cut: int) -> Tail:
    was = edges.before if not cut else int(edges.states[cut - 1])
    return replace(edges, ticks=edges.ticks[cut:], states=edges.states[cut:], before=was)
