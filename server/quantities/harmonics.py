"""Harmonics and total harmonic distortion of each voltage and current."""

from math import sqrt

import numpy as np
from numpy.typing import NDArray

from server.quantities.analysis import ORDERS, Analysis
from server.quantities.quantity import Quantity
from server.quantities.reasons import GAP, given, joined, too_small
from server.readings import Reading, absent

_THD = "orders 2 to 40 over the fundamental, IEC 61000-4-7 (from memory)"
HARMONICS = (
    Quantity("current_harmonics_a", "I_h", "harmonics of the current", "A", 4, "RMS of orders 1 to 50"),
    Quantity("current_thd_percent", "THD_I", "distortion of the current", "%", 1, _THD),
    Quantity("voltage_thd_percent", "THD_U", "distortion of the voltage", "%", 1, _THD),
)
_THD_ORDER_MAX = 40


def harmonic_readings(a: Analysis) -> list[Reading]:
    """Readings of `HARMONICS`, row after row.

    `current_harmonics_a` holds as many orders as the channel carries, order 1 first, at most 50; if fewer, it is
    doubtful and says where it ends and why. So is a THD that cannot reach order 40.
    """
    readings: list[Reading] = []
    sizes = None if a.orders is None else np.abs(a.orders)
    for k, row in enumerate(a.layout.rows):
        if row.steady or not row.wave:
            continue
        thd_key = "voltage_thd_percent" if row.is_voltage else "current_thd_percent"
        why_not = GAP if a.partial else a.silence or a.clipped[k]
        if why_not or sizes is None:
            keys = (thd_key,) if row.is_voltage else ("current_harmonics_a", thd_key)
            readings += [absent(key, why_not, row.place) for key in keys]
            continue
        have = sizes[k, : a.order_max[k]]
        if not row.is_voltage:
            readings.append(_list(a, k, have))
        readings.append(_thd(a, k, have, thd_key))
    return readings


def _list(a: Analysis, k: int, have: NDArray[np.float64]) -> Reading:
    place = a.layout.rows[k].place
    if not have.size:
        return absent("current_harmonics_a", _ends(a, k), place)
    limit = "" if have.shape[0] == ORDERS else _ends(a, k)
    return given("current_harmonics_a", tuple(have.tolist()), place, joined(limit, a.unsteady))


def _thd(a: Analysis, k: int, have: NDArray[np.float64], key: str) -> Reading:
    row, top = a.layout.rows[k], min(have.shape[0], _THD_ORDER_MAX)
    if top < 2:
        return absent(key, _ends(a, k), row.place)
    if have[0] < row.limit:
        return absent(key, too_small(row), row.place)
    rest = have[1:top]
    limit = "" if top == _THD_ORDER_MAX else f"orders 2 to {top} alone: {_ends(a, k)}"
    percent = 100.0 * sqrt(float(rest @ rest)) / float(have[0])
    return given(key, percent, row.place, joined(limit, a.unsteady))


def _ends(a: Analysis, k: int) -> str:
    """Why there is no higher order."""
    assert a.orders is not None
    highest, channel = a.order_max[k], a.layout.rows[k].channel
    if highest < a.orders.shape[1]:
        return f"orders from {highest + 1} on are above the channel's upper corner, {channel.corner_high_hz:.4g} Hz"
    return f"orders from {highest + 1} on are not below half the sample rate, {a.rate_hz / 2:.4g} Hz"
