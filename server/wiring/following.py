"""Visits of Hall states as windows come: what lies open at the end of one is kept for the next. Pure; one board.

Nothing is said of the wiring here; verdicts gather what is new (`Fresh`) over a stretch that a person chose.
"""

from dataclasses import dataclass, replace

import numpy as np

from server.config import Plate
from server.hall.inputs import Halls, shaft_inputs
from server.hall.tail import SETTLED_S, Tail, all_edges, tail_of
from server.motors import MotorType
from server.samples import Channel, EdgeTrain, Input, Samples
from server.wiring.leads import CONTRADICT, Leads, OffBy, Probes, joined, leads_of, probes_of
from server.wiring.vector import FIT_S_MAX, swept_deg
from server.wiring.visits import Visits, no_visits, visits_of

KEPT_S = 3.0  # of voltages: a shaft that stays longer in one state has stood, and the visit has no sums
_STEP, _SHARE = 0.2, 0.02  # of the largest spread, from sample to sample; of the samples: no winding does that (ours)
_STEPS = 3  # a shaft that is stopped at once makes one or two


@dataclass(frozen=True, slots=True)
class Fresh:
    """What a window brought: whole visits that ended in it, and every edge of the three inputs, glitches too.

    `edges`: of A, B, C alone, as they came. `levels` at the end, None where not known. `uncertain`: an edge may be
    missing. `driven`: current flowed, or the voltages were those of a drive. `most_v`: the greatest spread of the
    leads, None where they are not measured or were driven; `swept_deg`: electrical degrees that the shaft turned by
    them, signed; `off_by`: what they may be off by; `contradict`: as `Probes.contradict`, from CONTRADICT on they
    count as not measured.
    """

    visits: Visits
    edges: Tail
    levels: int | None
    first_tick: int
    end_tick: int
    uncertain: bool
    driven: bool
    most_v: float | None
    swept_deg: float = 0.0
    off_by: OffBy | None = None
    contradict: float | None = None


class Following:
    """Of a board with three Hall inputs; `probes`: None where the leads are not measured."""

    def __init__(self, halls: Halls, probes: Probes | None) -> None:
        self._bits, self._probes = halls.bits, probes
        self._leads: list[
            Leads
        ] = []  # without a gap, joined when a visit asks for them: a shaft that stands asks for none
        self._since = -1  # visits that begin here or later have not been told

    def step(self, train: EdgeTrain, window: Samples, driven: bool) -> Fresh:
        """What this window brought, the one after the last. `driven`: current flows, voltages are not the motor's."""
        leads = None if driven or self._probes is None else leads_of(window, self._probes)
        if leads is not None and _chopped(leads):
            driven, leads = True, None
        contradict = None if leads is None or self._probes is None else self._probes.contradict(window)
        if contradict is not None and contradict >= CONTRADICT:
            leads = None
        fresh = self.between(train, window.first_tick, window.end_tick, leads, driven)
        return replace(fresh, contradict=contradict)

    def between(
        self, train: EdgeTrain, first_tick: int, end_tick: int, leads: Leads | None = None, driven: bool = False
    ) -> Fresh:
        """The same of a stretch of board time, with voltages or without."""
        end = min(end_tick, train.known_to_tick)
        self._leads = _behind(self._leads, leads)
        tail = tail_of(train, self._bits, min(self._since, first_tick), end, 4)
        settled = end - SETTLED_S * train.tick_hz
        visits = no_visits()
        if _has_visit(tail, self._since, settled):
            self._leads = [joined(self._leads)] if self._leads else []
            voltages = self._leads[0] if self._leads else None
            visits = visits_of(tail, voltages, train.uncertain, train.tick_hz, self._since, settled)
        if visits.count:
            self._since = int(visits.begin_tick[-1]) + 1
        self._forget(int(visits.end_tick[-1]) if visits.count else self._since, train.tick_hz)
        return Fresh(
            visits=visits,
            edges=all_edges(train, self._bits, first_tick, end),
            levels=int(tail.states[-1]) if tail.ticks.size else tail.before,
            first_tick=first_tick,
            end_tick=end,
            uncertain=any(to >= first_tick for _, to in train.uncertain),
            driven=driven,
            most_v=None if leads is None else float(np.nanmax(leads.spread, initial=0.0)),
            swept_deg=0.0 if leads is None else swept_deg(leads),
            off_by=None if self._probes is None else self._probes.off_by,
        )

    def _forget(self, newest_tick: int, tick_hz: float) -> None:
        """Keep the voltages since the newest edge, and as much before it as its angle is fitted over."""
        if not self._leads:
            return
        wanted = max(newest_tick - FIT_S_MAX * tick_hz, self._leads[-1].end_tick - KEPT_S * tick_hz)
        kept = [each for each in self._leads if each.end_tick > wanted]
        if kept:
            kept[0] = kept[0].since(max(0, int((wanted - kept[0].first_tick) / kept[0].ticks_per_sample)))
        self._leads = kept


def _has_visit(tail: Tail, since_tick: int, until_tick: float) -> bool:
    """Whether one that begins then or later ends in time."""
    first = int(tail.ticks.searchsorted(since_tick))
    return first + 1 < tail.ticks.shape[0] and int(tail.ticks[first + 1]) <= until_tick


def following_of(
    inputs: tuple[Input, ...], channels: tuple[Channel, ...], motor: MotorType, plate: Plate
) -> Following | None:
    """None where the board has no three Hall inputs."""
    halls = shaft_inputs(inputs, plate)
    return Following(halls, probes_of(channels, motor)) if isinstance(halls, Halls) else None


def _behind(before: list[Leads], fresh: Leads | None) -> list[Leads]:
    """Voltages without a gap, or the fresh ones alone."""
    if fresh is None:
        return []
    if before and abs(before[-1].end_tick - fresh.first_tick) > 0.5 * fresh.ticks_per_sample:
        return [fresh]
    return [*before, fresh]


def _chopped(leads: Leads) -> bool:
    """Whether a drive switches the leads: windings that are turned have no such steps."""
    steps = np.abs(np.diff(leads.volts, axis=1)).max(axis=0)
    with np.errstate(invalid="ignore"):
        large = steps > max(_STEP * float(np.nanmax(leads.spread, initial=0.0)), leads.least_v)
    return bool(np.count_nonzero(large) > max(_SHARE * leads.count, _STEPS))
