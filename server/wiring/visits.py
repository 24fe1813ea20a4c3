"""Every visit of a Hall state, with the voltage-time sums of the leads in it: what all verdicts on wiring start from.

A visit begins and ends with an edge. Its sums need no speed: voltage times time is an angle. Pure.
"""

from collections.abc import Iterable
from dataclasses import dataclass, fields
from math import inf
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from server.hall.tail import Tail
from server.wiring.leads import Leads
from server.wiring.vector import lateness


@dataclass(frozen=True, slots=True)
class Visits:
    """Whole visits in their order, arrays (n,) or (n, 3).

    `state` as it came over the wires, `before` and `after` its neighbours, `begin_tick`, `end_tick`; `leads_v_s`,
    `spread_v_s`, `read_v_s`: sums over the samples that were loud enough, `loud` their share. At its first edge:
    `late_deg`, by how much it came after the nearest crossing of two leads' voltages in the direction turned (-30 to 30
    electrical degrees, NaN where it can't be told), and `turns`: +1 where U leads V leads W, -1 the other way, else 0.
    `sure`: no edge may be missing in it, nor in the one before it, whose state is `before`.
    """

    state: NDArray[np.int64]
    before: NDArray[np.int64]
    after: NDArray[np.int64]
    begin_tick: NDArray[np.int64]
    end_tick: NDArray[np.int64]
    leads_v_s: NDArray[np.float64]
    spread_v_s: NDArray[np.float64]
    read_v_s: NDArray[np.float64]
    loud: NDArray[np.float64]
    late_deg: NDArray[np.float64]
    turns: NDArray[np.int64]
    sure: NDArray[np.bool_]

    @property
    def count(self) -> int:
        return int(self.state.shape[0])

    def where(self, chosen: NDArray[np.bool_] | slice) -> "Visits":
        """Those chosen."""
        return Visits(*[getattr(self, name)[chosen] for name in _FIELDS])


_FIELDS = tuple(field.name for field in fields(Visits))


def no_visits() -> Visits:
    """None at all."""
    return visits_of(Tail(np.zeros(0, np.int64), np.zeros(0, np.int64), None, 0, 0), None, (), 1.0)


def in_a_row(parts: Iterable[Visits]) -> Visits:
    """All of them, one behind the other; there is at least one part."""
    return Visits(*[np.concatenate(columns) for columns in zip(*map(_columns, parts), strict=True)])


def _columns(visits: Visits) -> list[NDArray[np.generic]]:
    return [getattr(visits, name) for name in _FIELDS]


def visits_of(
    tail: Tail,
    leads: Leads | None,
    uncertain: tuple[tuple[int, int], ...],
    tick_hz: float,
    since_tick: int = -1,
    until_tick: float = inf,
) -> Visits:
    """The whole visits in `tail` that begin at `since_tick` or later and end by `until_tick`; `uncertain`: spans in
    which edges may be missing.

    `leads` may begin or end anywhere: a visit that it does not cover whole has no sums, `loud` is 0 there.
    """
    ticks, states = tail.ticks, tail.states
    n = max(ticks.shape[0] - 1, 0)
    known_before = -1 if tail.before is None else tail.before
    before = np.concatenate(([known_before], states[:-1]))[:n].astype(np.int64)
    begin, end, after = ticks[:n], ticks[1:], states[1:]
    sure = np.ones(n, np.bool_)
    began_before = np.concatenate(([tail.first_tick], ticks))[:n]
    for lost_from, lost_to in uncertain:
        sure &= (end < lost_from) | (began_before >= lost_to)
    sums = _sums(begin, end, leads, tick_hz)
    angles = lateness(ticks, leads, tick_hz)
    all_of_them = Visits(states[:n], before, after, begin, end, *sums, angles.late_deg[:n], angles.turns[:n], sure)
    return all_of_them.where(
        slice(int(begin.searchsorted(since_tick)), int(end.searchsorted(until_tick, side="right")))
    )


class _Sums(NamedTuple):
    leads_v_s: NDArray[np.float64]
    spread_v_s: NDArray[np.float64]
    read_v_s: NDArray[np.float64]
    loud: NDArray[np.float64]


def _sums(begin: NDArray[np.int64], end: NDArray[np.int64], leads: Leads | None, tick_hz: float) -> _Sums:
    n = begin.shape[0]
    if leads is None or not leads.count or not n:
        return _Sums(np.zeros((n, 3)), np.zeros(n), np.zeros(n), np.zeros(n))
    loud = leads.spread >= leads.least_v  # false where NaN
    rows = np.concatenate((leads.volts, leads.spread[None], leads.read_v[None], np.ones((1, leads.count))))
    running = np.zeros((6, leads.count + 1))
    np.cumsum(np.where(loud, rows, 0.0), axis=1, out=running[:, 1:])
    first, last = (
        np.ceil((each - leads.first_tick) / leads.ticks_per_sample).astype(np.int64) for each in (begin, end)
    )
    covered = (first >= 0) & (last <= leads.count) & (last > first)
    first, last = np.where(covered, first, 0), np.where(covered, last, 0)
    sums = running[:, last] - running[:, first]
    step_s = leads.ticks_per_sample / tick_hz
    share = sums[5] / np.maximum(last - first, 1)
    return _Sums(sums[:3].T * step_s, sums[3] * step_s, sums[4] * step_s, share)
