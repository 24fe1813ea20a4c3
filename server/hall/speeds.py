"""The same edges taken over different stretches: one period, whole turns, all of the window, with learned places. Pure.

Each cancels another error; together they show how far sensors, magnets and the shaft itself are even. Also how fast
the speed changes, and where the shaft is in its turn. No state is carried: places are learned anew from earlier edges.
"""

from dataclasses import dataclass
from math import pi

import numpy as np
from numpy.typing import NDArray

from server.hall.budget import Standard, of_fit, of_places, of_turns
from server.hall.estimate import SAME_TICK, SINCE_LAST, Estimate
from server.hall.fit import Fit, corrected, fitted, offsets
from server.hall.rotor import Told
from server.readings import Reading, absent, doubtful

LEARNED_TURNS = 8
LEARNED_EDGES = 360  # and no more than these: they must lie in what is kept of the past
_KEY, _ACCELERATION = "edge_speed_rpm", "angular_acceleration_rad_s2"
PERIOD, ELECTRICAL, MECHANICAL = "one period", "electrical turn", "mechanical turn"
WINDOW, PLACED = "window", "placed edges"


@dataclass(frozen=True, slots=True)
class Edges:
    """Edges in a row that turned the shaft one step each, (n,), `per_turn` steps a turn; the newest last.

    `first`: the first that lies in the window. `sectors`: they are sectors of Halls, else pulses. `since`: for each of
    them the tick before which nothing can have changed it or that it is in the row; `run_since` without any of them.
    `sign`: of the speed. `look_ticks`: an edge lies anywhere in so many ticks up to its own.
    """

    ticks: NDArray[np.int64]
    since: NDArray[np.int64]
    run_since: int
    first: int
    per_turn: int
    sectors: bool
    sign: float
    tick_hz: float
    look_ticks: int = 1


def learned_edges(per_turn: int, inside: int) -> int:
    """How many edges before the window are looked at to learn where the edges sit: none where it holds two turns."""
    return 0 if inside > 2 * per_turn else min(LEARNED_TURNS * per_turn, LEARNED_EDGES)


def edge_speeds(edges: Edges, estimate: Estimate) -> list[Told]:
    """Readings of `edge_speed_rpm` and of the acceleration; absent where the shaft stands or the next edge is late."""
    if not estimate.rpm or estimate.source == SINCE_LAST:
        reason, since = estimate.reason or "it stands", estimate.first_tick
    elif edges.ticks.shape[0] < 2 or estimate.reason:
        reason, since = (
            estimate.reason or "the last edges did not come in turn",
            min(estimate.first_tick, edges.run_since),
        )
    else:
        inside = edges.ticks[edges.first :]
        fit = fitted(inside, edges.per_turn, edges.look_ticks) if inside.shape[0] > edges.per_turn else None
        scatter, begin = fit, edges.first
        if fit is None:  # what one edge scatters by is then asked of the last two turns
            begin = max(edges.ticks.shape[0] - 2 * edges.per_turn - 1, 0)
            scatter = fitted(edges.ticks[begin:], edges.per_turn, edges.look_ticks)
        asked = int(edges.since[begin]) if begin or fit is not None else edges.run_since
        told = [_stretch(edges, place, steps, scatter) for place, steps in _steps(edges).items()]
        told += _fits(edges, inside, fit, scatter)
        return [each._replace(first_tick=min(each.first_tick, asked)) for each in told]
    told = [Told(absent(_KEY, reason, place), since) for place in (*_steps(edges), WINDOW, PLACED)]
    return [*told, Told(absent(_ACCELERATION, reason), since)]


def _steps(edges: Edges) -> dict[str, int]:
    """Stretches that are a number of steps, by their place."""
    electrical = {ELECTRICAL: 6} if edges.sectors else {}
    return {PERIOD: 1, **electrical, MECHANICAL: edges.per_turn}


def _stretch(edges: Edges, place: str, steps: int, scatter: Fit | None) -> Told:
    oldest = edges.ticks.shape[0] - 1 - steps
    if oldest < 0:
        return Told(absent(_KEY, f"fewer than {steps + 1} edges in one direction so far", place), edges.run_since)
    ticks = float(edges.ticks[-1] - edges.ticks[oldest])
    if ticks <= 0.0:
        return Told(absent(_KEY, SAME_TICK, place), int(edges.since[oldest]))
    if steps == edges.per_turn:
        parts = of_turns(ticks, 1, scatter, edges.look_ticks)
    else:
        pairs = edges.per_turn // 6
        parts = of_places(ticks, steps, pairs, scatter, edges.look_ticks) if edges.sectors else ()
    return _speed(edges, place, ticks / steps, parts, oldest)


def _fits(edges: Edges, inside: NDArray[np.int64], fit: Fit | None, scatter: Fit | None) -> list[Told]:
    since = int(edges.since[edges.first]) if inside.size else int(edges.since[-1])
    if fit is None:
        told = [Told(absent(_KEY, "the window holds no mechanical turn and more", WINDOW), since)]
    else:
        told = [_of_fit(edges, WINDOW, fit, edges.first)]
    return [*told, _placed(edges, inside, since), _acceleration(edges, fit, inside, since, scatter)]


def _placed(edges: Edges, inside: NDArray[np.int64], since: int) -> Told:
    """The window's edges, each put in the place that earlier turns showed, where it holds less than two turns."""
    if inside.shape[0] > 2 * edges.per_turn:
        return Told(absent(_KEY, "the window holds two turns, in which places cancel", PLACED), since)
    begin = max(edges.first - learned_edges(edges.per_turn, inside.shape[0]), 0)
    since = min(since, int(edges.since[begin]) if begin else edges.run_since)
    late = offsets(edges.ticks[begin : edges.first + 1], edges.per_turn)
    if late is None or not inside.size:
        return Told(absent(_KEY, "fewer than three steady turns before this window", PLACED), since)
    # `late` ends with the place of the window's first edge: turned so that it ends with that of the last.
    turned = np.roll(late, 1 - inside.shape[0])
    fit = corrected(inside, turned, edges.look_ticks)
    if fit is None:
        return Told(absent(_KEY, "fewer than four edges in the window", PLACED), since)
    told = _of_fit(edges, PLACED, fit, begin)
    return Told(told.reading, since, told.parts)


def _of_fit(edges: Edges, place: str, fit: Fit, oldest: int) -> Told:
    if fit.step_ticks <= 0.0:
        return Told(absent(_KEY, SAME_TICK, place), int(edges.since[oldest]))
    told = _speed(edges, place, fit.step_ticks, of_fit(fit, edges.look_ticks), oldest)
    if fit.steady:
        return told
    return Told(doubtful(told.reading, "the speed changed within the window: its mean"), told.first_tick)


def _speed(edges: Edges, place: str, step_ticks: float, parts: tuple[Standard, ...], oldest: int) -> Told:
    rpm = edges.sign * 60.0 * edges.tick_hz / (edges.per_turn * step_ticks)
    absolute = tuple([(what, abs(rpm) * part, dof) for what, part, dof in parts])
    return Told(Reading(_KEY, rpm, place=place), int(edges.since[oldest]), absolute)


def _acceleration(edges: Edges, fit: Fit | None, inside: NDArray[np.int64], since: int, scatter: Fit | None) -> Told:
    """From the fit where the window holds two mechanical turns; else from the first and the last whole turn in it."""
    if fit is not None and fit.steps >= 2 * edges.per_turn and fit.step_ticks > 0.0:
        step_s = fit.step_ticks / edges.tick_hz
        per_growth = -edges.sign * 2.0 * pi / (edges.per_turn * edges.tick_hz * step_s**3)
        parts = (("scatter of the edges", abs(per_growth) * fit.growth_standard, float(fit.dof)),)
        return Told(Reading(_ACCELERATION, per_growth * fit.growth), since, parts)
    turn = edges.per_turn if not edges.sectors or inside.shape[0] > 2 * edges.per_turn else 6
    if inside.shape[0] < turn + 2:
        return Told(absent(_ACCELERATION, "too few edges in the window"), since)
    first, last = float(inside[turn] - inside[0]), float(inside[-1] - inside[-1 - turn])
    between_s = 0.5 * float(inside[-1] + inside[-1 - turn] - inside[turn] - inside[0]) / edges.tick_hz
    if min(first, last, between_s) <= 0.0:
        return Told(absent(_ACCELERATION, SAME_TICK), since)
    per_turn_s = edges.sign * 2.0 * pi * turn / edges.per_turn * edges.tick_hz
    value = per_turn_s * (1.0 / last - 1.0 / first) / between_s
    if edges.sectors:
        own = of_places(last, turn, edges.per_turn // 6, scatter, edges.look_ticks)
    else:
        own = of_turns(last, 1, scatter, edges.look_ticks)
    scale = abs(per_turn_s) / last / between_s * 2.0**0.5
    return Told(Reading(_ACCELERATION, value), since, tuple([(what, part * scale, dof) for what, part, dof in own]))
