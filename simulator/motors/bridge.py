"""The six-step bridge, the leads and windings behind it, and the DC link before it: the steps of six_step.py.

The equations stand there. All take the constants of one case; phases are the motor's, whatever output they hang on.
"""

from math import inf
from typing import Any

from simulator.physics.stepping import inlined

NONE = -1
PLUS = (0, 0, 1, 1, 2, 2)  # by sector, forward
MINUS = (1, 2, 2, 0, 0, 1)
SECTOR_120 = (-1, 1, 3, 2, 5, 0, 4, -1)  # by Hall state
SECTOR_60 = (5, 0, -1, 1, 4, -1, 3, 2)


@inlined
def driven(case: Any, levels: int) -> tuple[int, int]:
    """The motor phases that the bridge drives to plus and to minus in this Hall state, or none.

    A leg whose switch is dead is left to its diodes while it would need it.
    """
    sector = SECTOR_60[levels] if case.table_60 else SECTOR_120[levels]
    if sector < 0 or not case.supplied or case.bridge_off:
        return NONE, NONE
    upper, lower = PLUS[sector], MINUS[sector]
    if not case.forward:
        upper, lower = lower, upper
    plus = NONE if case.upper_dead >> upper & 1 else case.order[upper]
    return plus, NONE if case.lower_dead >> lower & 1 else case.order[lower]


@inlined
def duty_within(case: Any, ohm: float, plus: int, minus: int, link_v: float, i: Any, e: Any, dt: float) -> float:
    """The duty within the current limit of the driven pair; a single leg has no other way for its current."""
    if plus == NONE:
        return 0.0
    if minus == NONE or link_v <= 0.0 or case.current_limit_a == inf:
        return float(case.duty)
    driving_a, emf_v = i[plus] - i[minus], e[plus] - e[minus]
    ohm *= 0.5 * (case.ohm_factor[plus] + case.ohm_factor[minus])
    half, inertia = 0.5 * dt * ohm / case.phase_h, case.phase_h / dt
    kept, limit = driving_a * (1.0 - half), 2.0 * case.current_limit_a * (1.0 + half)
    highest = ((limit - kept) * inertia + emf_v) / link_v
    lowest = ((-limit - kept) * inertia + emf_v) / link_v
    return float(min(max(min(max(case.duty, lowest), highest), -1.0), 1.0))


@inlined
def terminals(
    case: Any, ohm: float, plus: int, minus: int, duty: float, link_v: float, i: Any, e: Any, v: Any, on: Any
) -> float:
    """Fill terminal voltages `v` and `on`, what conducts, each (3,); return the voltage of the star point."""
    upper, lower = link_v + case.diode_v, -case.diode_v
    count, total, leads, sum_e, high, low = 0, 0.0, 0, 0.0, NONE, NONE
    for x in range(3):
        on[x] = False
        if x == plus:
            v[x] = link_v * max(duty, 0.0)
        elif x == minus:
            v[x] = link_v * max(-duty, 0.0)
        else:
            v[x] = (lower if i[x] > 0.0 else upper) if i[x] != 0.0 else 0.0
        if not case.open[x]:
            leads, sum_e = leads + 1, sum_e + e[x]
            high = x if high == NONE or e[x] > e[high] else high
            low = x if low == NONE or e[x] < e[low] else low
            if x in (plus, minus) or i[x] != 0.0:
                on[x] = True
                count, total = count + 1, total + v[x] - e[x] - (case.ohm_factor[x] - 1.0) * ohm * i[x]
    if count == 0:
        if leads < 2:
            return 0.0
        star = -sum_e / leads
        if e[high] - e[low] <= upper - lower:
            star = min(max(star, lower - e[low]), upper - e[high])
        else:
            on[high] = on[low] = True
            v[high], v[low] = upper, lower
            count, total = 2, upper - e[high] + lower - e[low]
            star = 0.5 * total
    else:
        star = total / count
    while count < leads:
        beyond, worst = NONE, 1e-9
        for x in range(3):
            if not on[x] and not case.open[x]:
                v[x] = e[x] + star
                passed = max(v[x] - upper, lower - v[x])
                if passed > worst:
                    beyond, worst = x, passed
        if beyond == NONE:
            break
        v[beyond] = upper if v[beyond] > upper else lower
        on[beyond] = True
        count, total = count + 1, total + v[beyond] - e[beyond]
        star = total / count
    return float(star)


@inlined
def currents(
    case: Any, ohm: float, plus: int, minus: int, dt: float, star: float, i: Any, e: Any, v: Any, on: Any, mean: Any
) -> float:
    """Step `i` (3,) by `dt` or to where a diode's current ends, whichever is first; returns that time.

    `mean` (3,) becomes the mean currents over it.
    """
    per_volt, share = dt / case.phase_h, 0.0
    part, ends, rest = 1.0, NONE, 0.0
    for x in range(3):
        mean[x] = 0.0
        if on[x]:
            half = 0.5 * per_volt * ohm * case.ohm_factor[x]
            after = (i[x] * (1.0 - half) + per_volt * (v[x] - e[x] - star)) / (1.0 + half)
            if x != plus and x != minus and i[x] * after <= 0.0:
                if i[x] != 0.0:
                    if i[x] / (i[x] - after) < part:
                        part, ends = i[x] / (i[x] - after), x
                elif after * v[x] > 0.0:  # against its diode: it does not begin to conduct
                    on[x] = False
                    continue
            mean[x], rest, share = after, rest + after, share + 1.0 / (1.0 + half)
    for x in range(3):
        after = 0.0
        if on[x]:  # the star point moves so that the currents add up to nothing
            own = 1.0 / (1.0 + 0.5 * per_volt * ohm * case.ohm_factor[x])
            after = i[x] + part * (mean[x] - rest * own / share - i[x])
        if x == ends:
            after = 0.0
        mean[x], i[x] = 0.5 * (i[x] + after), after
    return part * dt


@inlined
def link_a(plus: int, minus: int, duty: float, i: Any) -> float:
    total = 0.0
    for x in range(3):
        if x == plus:
            total += max(duty, 0.0) * i[x]
        elif x == minus:
            total += max(-duty, 0.0) * i[x]
        else:
            total += min(i[x], 0.0)
    return total


@inlined
def link(case: Any, link_v: float, drawn_a: float, dt: float) -> tuple[float, float]:
    """Voltage of the link after `dt` and the source's current meanwhile."""
    per_a, bleed = dt / case.link_f, 1.0 / case.bleed_ohm
    if not case.supplied:
        return max((link_v - per_a * drawn_a) / (1.0 + per_a * bleed), 0.0), 0.0
    if case.source_ohm == 0.0:
        return float(case.source_v), drawn_a + case.source_v * bleed
    through = 1.0 / case.source_ohm
    after = (link_v + per_a * (through * case.source_v - drawn_a)) / (1.0 + per_a * (through + bleed))
    free_a = (case.source_v - after) * through
    given_a = source_a(case, after, drawn_a)
    if given_a != free_a:
        after = max((link_v + per_a * (given_a - drawn_a)) / (1.0 + per_a * bleed), 0.0)
    return after, given_a


@inlined
def source_a(case: Any, link_v: float, drawn_a: float) -> float:
    """Current of the source at this voltage of the link, from which `drawn_a` is taken."""
    if not case.supplied:
        return 0.0
    if case.source_ohm == 0.0:
        return float(drawn_a + link_v / case.bleed_ohm)
    lowest = -case.source_limit_a if case.takes_back else 0.0
    return float(min(max((case.source_v - link_v) / case.source_ohm, lowest), case.source_limit_a))


@inlined
def open_leads(case: Any, i: Any) -> float:
    """Break the currents of open leads; returns what their arcs took, in J."""
    stored = magnetic_j(case, i)
    for x in range(3):
        if case.open[x] and i[x] != 0.0:
            y, z = (x + 1) % 3, (x + 2) % 3
            around = 0.5 * (i[y] - i[z])
            i[x], i[y], i[z] = 0.0, around, -around
    if case.bridge_off or case.open[0] + case.open[1] + case.open[2] > 1:
        i[:] = 0.0
    return stored - magnetic_j(case, i)


@inlined
def magnetic_j(case: Any, i: Any) -> float:
    """Energy in the three windings."""
    return float(0.5 * case.phase_h * (i[0] * i[0] + i[1] * i[1] + i[2] * i[2]))
