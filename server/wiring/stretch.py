"""What windows brought, gathered over a stretch that a person chose: from it the grounds of all verdicts. Pure."""

from dataclasses import dataclass, field, replace

import numpy as np

from server.hall.tail import Tail
from server.wiring.following import Fresh
from server.wiring.grounds import Grounds, Known
from server.wiring.leads import OffBy
from server.wiring.visits import Visits, no_visits

VISITS_MAX, EDGES_MAX = 4_000, 20_000  # kept, the newest: more tells no more; two minutes of brisk turning by hand


@dataclass(slots=True)
class Stretch:
    """Since a person began. `tick_hz`, `least_v` of the board, `probed`: its leads are measured at all."""

    tick_hz: float
    probed: bool
    least_v: float
    visits: Visits = field(default_factory=no_visits)
    edges: Tail | None = None
    levels: int | None = None
    first_tick: int | None = None
    end_tick: int = 0
    most_v: float = 0.0
    swept_deg: float = 0.0
    off_by: OffBy | None = None
    driven_ticks: int = 0
    uncertain: bool = False

    def take(self, fresh: Fresh) -> None:
        """One more window."""
        if self.first_tick is None:
            self.first_tick = fresh.first_tick
        whole = fresh.visits.where(fresh.visits.begin_tick >= self.first_tick)
        if whole.count:
            self.visits = self.visits.followed_by(whole).where(slice(-VISITS_MAX, None))
        self.edges = _followed(self.edges, fresh.edges)
        self.levels, self.end_tick = fresh.levels, fresh.end_tick
        self.swept_deg += fresh.swept_deg
        self.off_by = fresh.off_by
        self.most_v = max(self.most_v, fresh.most_v or 0.0)
        self.driven_ticks += fresh.driven * (fresh.end_tick - fresh.first_tick)
        self.uncertain |= fresh.uncertain

    def grounds(self, known: Known) -> Grounds:
        """Of the whole stretch so far, with what the person and the plate say."""
        edges = self.edges or Tail(np.zeros(0, np.int64), np.zeros(0, np.int64), None, 0, 0)
        lasted_s = (self.end_tick - (self.first_tick or 0)) / self.tick_hz if self.first_tick is not None else 0.0
        return Grounds(
            visits=self.visits,
            edges=edges,
            levels=self.levels,
            lasted_s=lasted_s,
            driven_s=self.driven_ticks / self.tick_hz,
            uncertain=self.uncertain,
            tick_hz=self.tick_hz,
            probed=self.probed,
            least_v=self.least_v,
            most_v=self.most_v,
            known=known,
            swept_deg=self.swept_deg,
            off_by=self.off_by,
            end_tick=self.end_tick,
        )


def _followed(before: Tail | None, fresh: Tail) -> Tail:
    if before is None:
        return fresh
    ticks = np.concatenate((before.ticks, fresh.ticks))
    states = np.concatenate((before.states, fresh.states))
    cut = max(0, ticks.shape[0] - EDGES_MAX)
    was = before.before if not cut else int(states[cut - 1])
    return replace(before, ticks=ticks[cut:], states=states[cut:], before=was)
