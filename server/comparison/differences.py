"""What differs between two runs: figures beyond both uncertainties, the largest share first. Pure.

Two values differ where they are further apart than the root of the summed squares of their two ± (JCGM 100, 5.1.2: the
uncertainty of a difference of independent values). Where one is absent or only a bound, or a ± is not known, that is
told instead of a guess.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import hypot, inf
from typing import Any, Literal, TypeAlias

from server.comparison.start import RAN_S
from server.duty.cycle import FIGURES, Bound, Figure, Kind
from server.duty.table import cycle_read

Outcome: TypeAlias = Literal["differs", "absent", "alike", "unknown"]
_ORDER: tuple[Outcome, ...] = ("differs", "absent", "alike", "unknown")
MORE = (
    Kind("switch_s", "start switch opened after", "s", 2, "from the moment until the auxiliary winding had no current"),
    Kind(
        "power_w",
        f"active power, first {RAN_S:g} s of running",
        "W",
        1,
        "mean over the windows in which it ran, from the first one on",
    ),
)
_NEAR_S = 1.0  # a start may be told so much later than its power came on
_NOT_UNKNOWN = "its ± is not known"


@dataclass(frozen=True, slots=True)
class Difference:
    """One figure of both runs; `change`: newer less older, `share`: of the older in per cent, None where it is none."""

    kind: Kind
    older: Figure
    newer: Figure
    outcome: Outcome
    change: float | None = None
    half: float | None = None
    share: float | None = None
    why: str = ""


def differences(older: Mapping[str, Figure], newer: Mapping[str, Figure]) -> list[Difference]:
    """All figures that at least one of the two has, what differs first and the largest share of it."""
    found = [
        _difference(kind, older[kind.key], newer[kind.key])
        for kind in (*FIGURES, *MORE)
        if kind.key in older and kind.key in newer
        if older[kind.key].value is not None or newer[kind.key].value is not None
    ]
    return sorted(found, key=lambda each: (_ORDER.index(each.outcome), -_size(each)))


def _difference(kind: Kind, older: Figure, newer: Figure) -> Difference:
    if older.value is None or newer.value is None:
        return Difference(kind, older, newer, "absent")
    for figure in (older, newer):
        if figure.bound is not Bound.NONE:
            return Difference(kind, older, newer, "unknown", why=figure.reason or f"it is {figure.bound.value} that")
    change = newer.value - older.value
    if older.half is None or newer.half is None:
        whose = older if older.half is None else newer
        return Difference(kind, older, newer, "unknown", change, why=whose.reason or _NOT_UNKNOWN)
    half = hypot(older.half, newer.half)
    share = 100.0 * change / abs(older.value) if older.value else None
    outcome: Outcome = "differs" if abs(change) > half else "alike"
    return Difference(kind, older, newer, outcome, change, half, share)


def _size(each: Difference) -> float:
    """A change from nothing is the largest."""
    return inf if each.share is None and each.outcome == "differs" else abs(each.share or 0.0)


def figures_at(evidence: Mapping[str, Any], at_utc_s: float) -> dict[str, Figure]:
    """The figures of the cycle that a moment lies in, or begins; none where no cycle is kept there, or where those that
    followed are not kept.

    `evidence`: of the run in short.
    """
    duty = evidence.get("duty", {})
    kept = [*duty.get("table", []), *([duty["under_way"]] if duty.get("under_way") else [])]
    begun = [each for each in kept if each["utc_s"] <= at_utc_s + _NEAR_S]
    later = kept[len(begun) :]
    if not begun or (later and later[0]["number"] != begun[-1]["number"] + 1):
        return {}
    return dict(cycle_read(begun[-1]).figures)
