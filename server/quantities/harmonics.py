"""Harmonics of each current and total harmonic distortion of each voltage and current, window by window."""

import numpy as np

from server.quantities.analysis import ORDERS, THD_ORDER_MAX, Analysis
from server.quantities.harmonic_spread import (
    HarmonicSpread,
    distortion,
    harmonic_spread,
    leaning,
    list_uncertainties,
    mean_shares,
)
from server.quantities.quantity import ALTERNATING, Quantity
from server.quantities.reasons import GAP, given, joined, too_small
from server.readings import Reading, Uncertainty, absent

_THD = "root of the summed squares of orders 2 to 40, noise taken out, over the fundamental"
_FROM = "IEC 61000-4-7, 3.3.1 (from memory)"
HARMONICS = (
    Quantity(
        *("current_harmonics_a", "I_h", "harmonics of the current", "A", 4),
        "RMS of orders 1 to 50, each at its own frequency; what is below its ± may be noise alone",
        *("IEC 61000-4-7, 3.2 (from memory)", "a current channel", ALTERNATING),
    ),
    Quantity(
        *("current_thd_percent", "THD_I", "distortion of the current", "%", 1),
        *(_THD, _FROM, "a current channel", ALTERNATING),
    ),
    Quantity(
        *("voltage_thd_percent", "THD_U", "distortion of the voltage", "%", 1),
        *(_THD, _FROM, "a voltage channel", ALTERNATING),
    ),
)


def harmonic_readings(a: Analysis) -> list[Reading]:
    """Readings of `HARMONICS`, row after row.

    `current_harmonics_a` holds as many orders as the channel carries, order 1 first, at most 50; if fewer, it is
    doubtful and says where it ends and why. So is a THD that cannot reach order 40.
    """
    readings: list[Reading] = []
    of: HarmonicSpread | None = None
    sure: list[Uncertainty | None] = [None] * len(a.layout.rows)
    corners = [0.0] * len(a.layout.rows)
    if a.phasors is not None:
        of, sizes = harmonic_spread(a), np.abs(a.phasors)
        sure, corners = list_uncertainties(of, sizes, 1, of.read), mean_shares(of, sizes[:, 1:THD_ORDER_MAX])
    for k, row in enumerate(a.layout.rows):
        if row.steady or not row.wave:
            continue
        why_not = why_no_harmonics(a, k)
        if not row.is_voltage:
            readings.append(harmonic_list(a, k, "current_harmonics_a", why_not, sure[k]))
        key = "voltage_thd_percent" if row.is_voltage else "current_thd_percent"
        readings.append(_thd(a, k, why_not, key, of, corners[k]))
    return readings


def why_no_harmonics(a: Analysis, k: int) -> str:
    """Why row k has none at all, or empty."""
    return GAP if a.partial else a.silence or a.clipped[k]


def harmonic_list(a: Analysis, k: int, key: str, why_not: str, sure: Uncertainty | None) -> Reading:
    """RMS of the orders of row k; `sure`: where all of them are there."""
    place, highest = a.layout.rows[k].place, 0 if why_not else a.order_max[k]
    if highest < 1:
        return absent(key, why_not or why_it_ends(a, k), place)
    doubt = joined("" if highest == ORDERS else why_it_ends(a, k), a.unsteady, a.folded(k))
    return given(key, tuple(a.harmonics[k][:highest]), place, doubt, None, sure)


def _thd(a: Analysis, k: int, why_not: str, key: str, of: HarmonicSpread | None, corner: float) -> Reading:
    row = a.layout.rows[k]
    if why_not or of is None or a.order_max[k] < 2:
        return absent(key, why_not or why_it_ends(a, k), row.place)
    fundamental = a.harmonics[k][0]
    if fundamental < row.limit:
        return absent(key, too_small(row), row.place)
    doubt, highest = joined(a.unsteady, a.folded(k)), min(a.order_max[k], THD_ORDER_MAX)
    if highest < THD_ORDER_MAX:
        doubt = joined(f"orders 2 to {highest} alone: {why_it_ends(a, k)}", doubt)
    read, square = of.read_rest[highest], a.distortion[k] ** 2
    leaning_by = leaning(of, a.harmonics[k][:highest])
    percent, sure = distortion(of, k, square, fundamental, highest - 1, a.samples, read, corner, (leaning_by, 0.0))
    return given(key, percent, row.place, doubt, None, sure)


def why_it_ends(a: Analysis, k: int) -> str:
    """Why row k has no higher order."""
    highest, channel = a.order_max[k], a.layout.rows[k].channel
    if highest < a.orders:
        return f"orders from {highest + 1} on are above the channel's upper corner, {channel.corner_high_hz:.6g} Hz"
    return f"orders from {highest + 1} on are not below half the sample rate, {a.rate_hz / 2:.6g} Hz"
