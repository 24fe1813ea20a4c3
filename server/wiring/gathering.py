"""What the Wiring screen stands on: the last turning of the shaft that told something. Pure; one board.

A shaft that stood for a while and moves again may have other wires on it: that is another turning. It takes the place
of the one before as soon as it can tell as much. Where the newest edges plainly show another wiring than all of them
together, wires were moved without such a rest: then only the newest are shown.
"""

from dataclasses import dataclass, field, replace

import numpy as np

from server.wiring.around import Around
from server.wiring.following import Fresh
from server.wiring.grounds import NOTHING_SAID, Grounds, Known
from server.wiring.leads import CONTRADICT, Leads
from server.wiring.order import PLAIN, PROBABLE
from server.wiring.stretch import Stretch
from server.wiring.torque import FITS

SILENT_DEG = 720.0  # electrical, by the leads, without an edge: each sensor should have changed four times (ours)
NEWEST_EDGES = 24  # each state four times in each row of them (ours)
REWIRED = 0.3  # of the torque fraction: places, hysteresis and broken edges change it by less (ours)
STOOD_S = 3.0  # longer than between two strokes of a hand, shorter than moving a plug


@dataclass(slots=True)
class Turning:
    """One stretch, and what it shows against electrical angle, by the sense of the leads."""

    stretch: Stretch
    around: dict[int, Around] = field(default_factory=dict)

    def take(self, fresh: Fresh, leads: Leads | None) -> None:
        """One more window; `leads` of it, None where they are not measured or were driven."""
        self.stretch.take(fresh)
        if leads is None or fresh.driven or (fresh.contradict or 0.0) >= CONTRADICT:
            return
        new = Around()
        new.take(leads, fresh.edges, self.stretch.tick_hz)
        if new.sense:
            self.around.setdefault(new.sense, Around()).add(new)

    @property
    def seen(self) -> Around:
        """The sense in which it was turned farther."""
        return max(self.around.values(), key=lambda each: each.turned_deg, default=Around())


class Gathering:
    """`tick_hz`, `least_v` of the board; `probed`: its leads are measured. `whole`: all that comes is one turning, for
    a step of a check that says itself when it begins."""

    def __init__(self, tick_hz: float, probed: bool, least_v: float, whole: bool = False) -> None:
        self.tick_hz, self.probed, self.least_v, self._whole = tick_hz, probed, least_v, whole
        self.still_s = 0.0  # since the last edge
        self.anew()

    def anew(self) -> None:
        """Forget what was turned: a person has moved wires."""
        self._silent_deg = 0.0  # turned by the leads since the last edge
        self._shown, self._driven, self._newest = self._new(), self._new(), self._new()
        self._coming: Turning | None = None

    def take(self, fresh: Fresh, leads: Leads | None) -> None:
        """One more window. What ran under power is gathered apart: it shows no voltages of the windings."""
        stood, moved = self.still_s >= STOOD_S, bool(fresh.edges.ticks.size)
        end = int(fresh.edges.ticks[-1]) if moved else fresh.first_tick
        self.still_s = (fresh.end_tick - end) / self.tick_hz + (0.0 if moved else self.still_s)
        if self._whole:
            self._shown.take(fresh, leads)
        elif fresh.driven:
            self._driven = self._new() if stood and moved else self._driven
            self._driven.take(fresh, None)
        else:
            self._turned(fresh, leads, stood and moved)

    def _turned(self, fresh: Fresh, leads: Leads | None, anew: bool) -> None:
        self._silent_deg = 0.0 if fresh.edges.ticks.size else self._silent_deg + fresh.swept_deg
        if abs(self._silent_deg) >= SILENT_DEG and self._shown.stretch.telling():
            self.anew()  # the signals died while it turns on: what they showed before holds no more
        if anew and self._shown.stretch.telling() >= PROBABLE:
            self._coming = self._new()
        if self._coming is None:
            self._shown.take(fresh, leads)
            self._look_for_other_wires(fresh, leads)
            return
        self._coming.take(fresh, leads)
        if fresh.visits.count and self._coming.stretch.telling() >= PLAIN:
            self._shown, self._coming, self._newest = self._coming, None, self._new()

    def _look_for_other_wires(self, fresh: Fresh, leads: Leads | None) -> None:
        self._newest.take(fresh, leads)
        if not fresh.visits.count or self._newest.stretch.telling() < NEWEST_EDGES:
            return
        if self.probed and _rewired(self._shown.stretch, self._newest.stretch):
            self._shown = self._newest
        self._newest = self._new()

    def grounds(self, known: Known) -> Grounds:
        """Of the turning that is shown; where nothing was turned, with what ran under power beside it."""
        grounds = self._shown.stretch.grounds(known)
        return grounds if grounds.edges.count > 1 else replace(grounds, powered=self.driven(known))

    def driven(self, known: Known) -> Grounds | None:
        """Of what ran under power; None where nothing did."""
        return self._driven.stretch.grounds(known) if self._driven.stretch.driven_ticks else None

    @property
    def around(self) -> Around:
        """The turning that is shown, against electrical angle."""
        return self._shown.seen

    def _new(self) -> Turning:
        return Turning(Stretch(self.tick_hz, self.probed, self.least_v))


def _rewired(shown: Stretch, newest: Stretch) -> bool:
    """Whether the newest edges fit some order of the leads, and as wired make another torque than all together."""
    new, old = newest.grounds(NOTHING_SAID), shown.grounds(NOTHING_SAID)
    if new.course.odd is None:
        return False
    ways, before = (each.fractions()[0, new.course.odd] for each in (new, old))  # Hall wires as they are
    return bool(np.abs(ways).max() >= FITS and abs(ways[0] - before[0]) > REWIRED)
