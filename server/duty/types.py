"""Duty types of IEC 60034-1, clause 4.2 (from memory), named only when they have been seen. Pure.

S1 to S5 are told. S6 to S10 differ by loads and speeds within a cycle that is never at rest, which is not looked at
here: none of them is ever named. The limits below are ours; the standard says "identical cycles" and "significant".
"""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from server.duty.cycle import Cycle
from server.duty.equilibrium import Equilibrium, Point
from server.duty.factor import is_whole

FEWEST = 10  # cycles in a row: fewer may be alike by chance
ALIKE = 0.1  # of the median: on-time, off-time and current of identical cycles
MOST = 0.9  # of the cycles must be so
STEADY_PERCENT = 10.0  # spread of the current of a constant load
START_PERCENT = 10.0  # of a cycle's heat: a start with more is significant
LONGEST_S = 3600.0  # of a cycle: what is longer may reach equilibrium in each
COLD_K = 2.0  # within so much of the coolant a machine has cooled down (4.2.2, from memory)
_NEAR_S = 600.0


@dataclass(frozen=True, slots=True)
class DutyType:
    """`name`: "S1" to "S5", empty: none was seen, and `missing` says of each what is. `words`: what it rests on."""

    name: str
    words: str = ""
    missing: tuple[str, ...] = ()


def duty_type_of(
    cycles: Sequence[Cycle],
    equilibrium: Equilibrium,
    temperatures: Sequence[Point] = (),
    ambient_c: float | None = None,
) -> DutyType:
    """Of cycles in their order. `start_s` of these and times of `temperatures` are on one clock."""
    if not cycles:
        return DutyType("", missing=("no start was seen",))
    continuous, no_s1 = _continuous(cycles[-1], equilibrium)
    if continuous:
        return DutyType("S1", continuous)
    periodic, no_periodic = _periodic(cycles)
    if periodic is not None:
        return periodic
    short, no_s2 = _short_time(cycles, equilibrium, temperatures, ambient_c)
    if short:
        return DutyType("S2", short)
    return DutyType("", missing=(f"S1: {no_s1}", f"S2: {no_s2}", f"S3 to S5: {no_periodic}"))


def _continuous(last: Cycle, equilibrium: Equilibrium) -> tuple[str, str]:
    """Constant load for long enough to reach thermal equilibrium (4.2.1)."""
    on_s = last.figures["on_time_s"].value or 0.0
    if equilibrium.since_s is None:
        return "", f"thermal equilibrium was not seen: {equilibrium.missing}"
    if not last.start_s <= equilibrium.since_s <= last.start_s + on_s:
        return "", "thermal equilibrium was not reached within one on-time"
    spread = last.figures["current_spread"].value
    if spread is None or spread > STEADY_PERCENT:
        return "", "the load is not constant" if spread is not None else "the current is not known"
    return f"on for {on_s / 60.0:.0f} min at a constant load, and in thermal equilibrium", ""


def _periodic(cycles: Sequence[Cycle]) -> tuple[DutyType | None, str]:
    """Identical cycles of load and rest, too short for equilibrium (4.2.3 to 4.2.5)."""
    whole = [each for each in cycles if is_whole(each)]
    if len(whole) < FEWEST:
        known = "1 cycle is" if len(whole) == 1 else f"{len(whole)} cycles are"
        return None, f"{known} known whole, and {FEWEST} are asked for"
    for key, words in (("on_time_s", "on-times"), ("off_time_s", "off-times"), ("steady_current_a", "currents")):
        values = [value for each in whole if (value := each.value(key)) is not None]
        if len(values) < MOST * len(whole):
            return None, f"{words} are not known of nine cycles of ten"
        middle = median(values)
        alike = sum(abs(each - middle) <= ALIKE * abs(middle) for each in values)
        if alike < MOST * len(whole):
            return None, f"{words} differ by more than {100 * ALIKE:.0f} % from cycle to cycle"
    if _middle(whole, "on_time_s") + _middle(whole, "off_time_s") > LONGEST_S:
        return None, f"cycles of more than {LONGEST_S / 60.0:.0f} min may reach thermal equilibrium"
    if _middle(whole, "current_spread") > STEADY_PERCENT:
        return None, "the load within a cycle is not constant"
    braked = sum(each.braked for each in whole)
    if braked >= MOST * len(whole):
        return DutyType("S5", f"{len(whole)} identical cycles with a start, and braked electrically in {braked}"), ""
    heat = _middle(whole, "start_heat")
    if heat >= START_PERCENT:
        return DutyType("S4", f"{len(whole)} identical cycles; the start makes {heat:.0f} % of the heat of each"), ""
    return DutyType("S3", f"{len(whole)} identical cycles; the start makes {heat:.1f} % of the heat of each"), ""


def _middle(cycles: Sequence[Cycle], key: str) -> float:
    return median([value for each in cycles if (value := each.value(key)) is not None] or [0.0])


def _short_time(
    cycles: Sequence[Cycle], equilibrium: Equilibrium, temperatures: Sequence[Point], ambient_c: float | None
) -> tuple[str, str]:
    """Constant load, too short for equilibrium, then a rest in which it cools down to the coolant (4.2.2)."""
    if ambient_c is None or not temperatures:
        return "", "a temperature of the motor and that of the ambient are not known"
    last = next((each for each in reversed(cycles) if is_whole(each)), None)
    if last is None:
        return "", "no cycle is known whole"
    on_s, off_s = (last.figures[key].value or 0.0 for key in ("on_time_s", "off_time_s"))
    next_s = last.start_s + on_s + off_s
    near = [value for at, value in temperatures if next_s - _NEAR_S <= at <= next_s]
    if not near or abs(near[-1] - ambient_c) > COLD_K:
        return "", f"it did not cool down to {COLD_K:g} K above the ambient before the next start"
    if equilibrium.since_s is not None and last.start_s <= equilibrium.since_s <= last.start_s + on_s:
        return "", "it reached thermal equilibrium"
    return f"on for {on_s / 60.0:.1f} min without thermal equilibrium, then cooled down", ""
