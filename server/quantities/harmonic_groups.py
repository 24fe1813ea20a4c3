"""What is told of the harmonics once a second: all their lists, angles, groups and subgroups, and THDG and THDS.

Of one window in five, by its number, and from that window alone: whoever computes it again gets the same. Lines stand
at each tenth (60 Hz: twelfth) of the fundamental's own frequency, so they are in step with it although the window is
not; its 200 ms are ten (twelve) cycles to within 1 %, or the values are not called by the standard's name. Nothing is
smoothed over 1.5 s as the standard's last step would, for a reading is of one window.
"""

from dataclasses import dataclass
from math import pi
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from server.quantities.analysis import ORDERS, THD_ORDER_MAX, Analysis
from server.quantities.group_leaks import BETWEEN as BETWEEN_ORDERS
from server.quantities.group_leaks import GROUP, SUBGROUP, Leaks
from server.quantities.harmonic_spread import (
    HarmonicSpread,
    Leaked,
    distortion,
    harmonic_spread,
    list_uncertainties,
    mean_shares,
)
from server.quantities.harmonics import harmonic_list, why_it_ends, why_no_harmonics
from server.quantities.quantity import ALTERNATING, Quantity
from server.quantities.reasons import given, joined, too_small
from server.readings import Reading, Uncertainty, absent
from server.samples import Samples
from server.signals import groups_of, synchronous_lines

EVERY_S = 1.0
CYCLES_MIN = 4
_NAMED = (10, 12)  # cycles in 200 ms at 50 and 60 Hz
_NEAR = 0.01  # of these
_IEC = "IEC 61000-4-7"
Pair: TypeAlias = tuple[Quantity, Quantity]


_NEEDS = {"voltage": "a voltage channel", "current": "a current channel"}
_LINES = "lines at each tenth of the fundamental at 50 Hz, twelfth at 60 Hz; once a second, not smoothed"


def _both(what: str, symbol: str, label: str, units: dict[str, tuple[str, str, int]], text: str, clause: str) -> Pair:
    """The entry for the voltage and the one for the current; `units`: ending of the key, unit and digits of each."""
    one, other = (
        Quantity(
            *(f"{side}_{what}_{ending}", symbol.replace("X", letter), f"{label} of the {side}", unit, digits),
            *(text, f"{_IEC}, {clause} (from memory)", _NEEDS[side], ALTERNATING),
        )
        for (side, (ending, unit, digits)), letter in zip(units.items(), "UI", strict=True)
    )
    return one, other


_RMS = {"voltage": ("v", "V", 3), "current": ("a", "A", 4)}
_DEGREES = {"voltage": ("deg", "°", 1), "current": ("deg", "°", 1)}
_PERCENT = {"voltage": ("percent", "%", 1), "current": ("percent", "%", 1)}
HARMONICS_U = Quantity(
    *("voltage_harmonics_v", "U_h", "harmonics of the voltage", "V", 3),
    "RMS of orders 1 to 50, each at its own frequency, once a second; what is below its ± may be noise alone",
    *(f"{_IEC}, 3.2 (from memory)", "a voltage channel", ALTERNATING),
)
ANGLES = _both(
    *("harmonic_angles", "φ_Xh", "angles of the harmonics", _DEGREES),
    "of orders 1 to 50 as sines, where the fundamental of the voltage rises through zero (of the voltage at the same "
    "place, else of the row that gives the frequency)",
    "annex C",
)
SUBGROUPS = _both(
    *("harmonic_subgroups", "X_sg,h", "harmonic subgroups", _RMS),
    *(f"an order and the line on each side; {_LINES}", "5.5.1"),
)
GROUPS = _both(
    *("harmonic_groups", "X_g,h", "harmonic groups", _RMS),
    *(f"all lines to halfway to the next orders; {_LINES}", "5.5.1"),
)
BETWEEN = _both(
    *("interharmonic_subgroups", "X_isg,h", "interharmonic subgroups", _RMS),
    *(f"centred, above orders 0 to 49, without the lines beside them; {_LINES}", "annex A"),
)
THDG = _both(
    *("thdg", "THDG_X", "group distortion", _PERCENT),
    *("root of the summed squares of groups 2 to 40, noise taken out, over group 1", "3.3.2"),
)
THDS = _both(
    *("thds", "THDS_X", "subgroup distortion", _PERCENT),
    *("root of the summed squares of subgroups 2 to 40, noise taken out, over subgroup 1", "3.3.3"),
)
HARMONIC_GROUPS: tuple[Quantity, ...] = (HARMONICS_U, *ANGLES, *SUBGROUPS, *GROUPS, *BETWEEN, *THDG, *THDS)
HARMONIC_LISTS = frozenset(each.key for each in (HARMONICS_U, *ANGLES, *SUBGROUPS, *GROUPS, *BETWEEN))


def is_due(window: Samples) -> bool:
    """Whether these readings are made of this window."""
    every = max(1, round(EVERY_S * window.rate_hz / window.count))
    return window.first_sample // window.count % every == 0


def harmonic_group_readings(a: Analysis) -> list[Reading]:
    """Readings of `HARMONIC_GROUPS`, row after row."""
    rows = [k for k, row in enumerate(a.layout.rows) if row.wave and not row.steady]
    made = _made(a) if rows and a.phasors is not None and a.spectrum is not None else None
    readings: list[Reading] = []
    for k in rows:
        why_not = why_no_harmonics(a, k)
        if a.layout.rows[k].is_voltage:
            readings.append(harmonic_list(a, k, HARMONICS_U.key, why_not, made.harmonics[k] if made else None))
        readings.append(_angles(a, k, why_not, made))
        readings += _of_groups(a, k, why_not, made)
    return readings


@dataclass(frozen=True, slots=True)
class _List:
    """A list of each row, what it may be off by, and how many lines each value holds."""

    values: NDArray[np.float64]
    sure: list[Uncertainty | None]
    lines: int
    squares: list[float]  # summed over orders 2 to THD_ORDER_MAX
    corners: list[float]
    leaked: list[list[float]]  # into the sum of squares: its variance, and what is added


@dataclass(frozen=True, slots=True)
class _Made:
    """What all rows have in common. `lists`: subgroups, groups, between; none where cycles are too few."""

    of: HarmonicSpread
    harmonics: list[Uncertainty | None]
    angles: list[list[float]]
    per_order: int
    lists: tuple[_List, ...]


def _made(a: Analysis) -> _Made:
    assert a.spectrum is not None
    assert a.phasors is not None
    of, per_order = harmonic_spread(a), round(a.cycles)
    lists: tuple[_List, ...] = ()
    if per_order >= CYCLES_MIN:
        lines = synchronous_lines(a.spectrum, a.samples, a.cycles, a.phasors, per_order)
        groups, leaks = groups_of(lines, per_order), Leaks(a, lines, per_order)
        every = (
            (groups.subgroup, 3, SUBGROUP),
            (groups.group, per_order, GROUP),
            (groups.between, max(per_order - 3, 1), BETWEEN_ORDERS),
        )
        orders = groups.group.shape[1]
        alone, at_order = np.zeros(groups.group.shape), leaks.at_order(orders)
        lists = tuple(
            _list(of, values, count, Leaked(alone if kind == BETWEEN_ORDERS else at_order, leaks.on_all(kind, orders)))
            for values, count, kind in every
        )
    sure = list_uncertainties(of, np.abs(a.phasors), 1, of.read)
    return _Made(of, sure, _all_angles(a).tolist(), per_order, lists)


def _list(of: HarmonicSpread, values: NDArray[np.float64], lines: int, leaked: Leaked) -> _List:
    rest = values[:, 1:THD_ORDER_MAX]
    squares = np.einsum("ij,ij->i", rest, rest).tolist()
    sure = list_uncertainties(of, values, lines, 1.0, leaked)
    both = slice(1, THD_ORDER_MAX)
    moved = 4.0 * np.einsum("ij,ij,ij->i", rest, rest, leaked.on_order[:, both]), leaked.on_all[:, both].sum(axis=1)
    return _List(values, sure, lines, squares, mean_shares(of, rest), np.stack(moved, axis=1).tolist())


def _all_angles(a: Analysis) -> NDArray[np.float64]:
    """An order h of phasor angle b, where the voltage's fundamental has a: b - h a - (h - 1) 90 degrees."""
    assert a.phasors is not None
    voltages = {pair.current: pair.voltage for pair in a.layout.pairs}
    rows = range(len(a.layout.rows))
    reference = [k if a.layout.rows[k].is_voltage else voltages.get(k, a.clock) for k in rows]
    h = np.arange(1, a.orders + 1)
    delayed = 2 * pi * (a.frequency_hz or 0.0) * np.array([row.channel.delay_s for row in a.layout.rows])
    turned = np.angle(a.phasors) + np.multiply.outer(delayed - np.angle(a.fundamental)[reference], h)
    turned -= (h - 1) * (pi / 2)
    return np.degrees(turned - 2 * pi * np.round(turned / (2 * pi)))


def _angles(a: Analysis, k: int, why_not: str, made: _Made | None) -> Reading:
    row = a.layout.rows[k]
    key, highest = ANGLES[0 if row.is_voltage else 1].key, 0 if why_not else a.order_max[k]
    if highest < 1 or made is None:
        return absent(key, why_not or why_it_ends(a, k), row.place)
    return given(key, tuple(made.angles[k][:highest]), row.place, joined(a.unsteady, a.folded(k)))


def _of_groups(a: Analysis, k: int, why_not: str, made: _Made | None) -> list[Reading]:
    row = a.layout.rows[k]
    side = 0 if row.is_voltage else 1
    keys = (SUBGROUPS[side].key, GROUPS[side].key, BETWEEN[side].key, THDS[side].key, THDG[side].key)
    if not why_not and made is not None and not made.lists:
        why_not = f"fewer than {CYCLES_MIN} cycles in the window"
    highest = 0 if why_not or made is None else min(a.order_max[k], made.lists[0].values.shape[1])
    if made is None or highest < 1:
        return [absent(key, why_not or why_it_ends(a, k), row.place) for key in keys]
    doubt = joined(_not_named(a, made.per_order), a.unsteady, a.folded(k))
    ends = joined("" if highest == ORDERS else why_it_ends(a, k), doubt)
    readings = [
        given(key, tuple(each.values[k, :highest].tolist()), row.place, ends, None, each.sure[k])
        for key, each in zip(keys, made.lists, strict=False)
    ]
    return readings + [
        _ratio(a, k, key, each, made.of, highest, doubt) for key, each in zip(keys[3:], made.lists, strict=False)
    ]


def _not_named(a: Analysis, per_order: int) -> str:
    if any(abs(a.cycles - named) <= _NEAR * named for named in _NAMED):
        return ""
    return f"{per_order} cycles at {a.frequency_hz:.4g} Hz: not the 10 or 12 of {_IEC}"


def _ratio(a: Analysis, k: int, key: str, of_list: _List, of: HarmonicSpread, highest: int, doubt: str) -> Reading:
    row, first = a.layout.rows[k], float(of_list.values[k, 0])
    if first < row.limit:
        return absent(key, too_small(row), row.place)
    square = of_list.squares[k]
    if highest < THD_ORDER_MAX:
        if highest < 2:
            return absent(key, why_it_ends(a, k), row.place)
        doubt = joined(f"orders 2 to {highest} alone: {why_it_ends(a, k)}", doubt)
        rest = of_list.values[k, 1:highest]
        square = float(rest @ rest)
    lines = of_list.lines * (min(highest, THD_ORDER_MAX) - 1)
    leaked = (of_list.leaked[k][0], of_list.leaked[k][1])
    percent, sure = distortion(of, k, square, first, lines, a.samples, 1.0, of_list.corners[k], leaked)
    return given(key, percent, row.place, doubt, None, sure)
