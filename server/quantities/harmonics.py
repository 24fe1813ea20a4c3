"""Harmonics and total harmonic distortion of each voltage and current."""

from math import sqrt

import numpy as np

from server.quantities.analysis import GAP, ORDERS, Analysis
from server.quantities.levels import too_small
from server.quantities.quantity import Quantity
from server.readings import Confidence, Reading, absent

_THD = "orders 2 to 40 over the fundamental, IEC 61000-4-7 (from memory)"
HARMONICS = (
    Quantity("current_harmonics_a", "I_h", "harmonics of the current", "A", 4, "RMS of orders 1 to 50"),
    Quantity("current_thd_percent", "THD_I", "distortion of the current", "%", 1, _THD),
    Quantity("voltage_thd_percent", "THD_U", "distortion of the voltage", "%", 1, _THD),
)
THD_ORDER_MAX = 40


def harmonic_readings(a: Analysis) -> list[Reading]:
    """Readings of `HARMONICS`, row after row.

    `current_harmonics_a` holds as many orders as the channel carries, order 1 first, at most 50; if fewer, it is
    doubtful and says where it ends and why. So does a THD that cannot reach order 40.
    """
    readings: list[Reading] = []
    sizes = None if a.orders is None else np.abs(a.orders)
    for k, row in enumerate(a.layout.rows):
        if row.steady:
            continue
        thd_key = "voltage_thd_percent" if row.is_voltage else "current_thd_percent"
        keys = (thd_key,) if row.is_voltage else ("current_harmonics_a", thd_key)
        if why_not := _why_not(a, k):
            readings += [absent(key, why_not, row.place) for key in keys]
            continue
        assert sizes is not None
        highest = a.order_max[k]
        have = sizes[k, :highest]
        if not row.is_voltage:
            value, limit = tuple(have.tolist()), "" if highest >= ORDERS else _ends(a, k)
            readings.append(_given("current_harmonics_a", value, row.place, _and(limit, a.unsteady)))
        if have[0] < row.limit:
            readings.append(absent(thd_key, too_small(a, k), row.place))
            continue
        top = min(highest, THD_ORDER_MAX)
        if top < 2:
            readings.append(absent(thd_key, _ends(a, k), row.place))
            continue
        rest = have[1:top]
        thd = 100.0 * sqrt(float(rest @ rest)) / float(have[0])
        limit = "" if top == THD_ORDER_MAX else f"orders 2 to {top} alone: {_ends(a, k)}"
        readings.append(_given(thd_key, thd, row.place, _and(limit, a.unsteady)))
    return readings


def _why_not(a: Analysis, k: int) -> str:
    if a.partial:
        return GAP
    if a.orders is None:
        return a.silence
    if a.clipped[k]:
        return a.clipped[k]
    return "" if a.layout.rows[k].wave else "its samples are not instantaneous values"


def _ends(a: Analysis, k: int) -> str:
    assert a.orders is not None
    highest, channel = a.order_max[k], a.layout.rows[k].channel
    if highest < a.orders.shape[1]:
        return f"orders from {highest + 1} are above the channel's upper corner, {channel.corner_high_hz:.4g} Hz"
    return f"orders from {highest + 1} are above half the sample rate, {a.rate_hz / 2:.4g} Hz"


def _and(one: str, other: str) -> str:
    return f"{one}; {other}" if one and other else one or other


def _given(key: str, value: float | tuple[float, ...], place: str, doubt: str) -> Reading:
    if doubt:
        return Reading(key, value, Confidence.DOUBTFUL, doubt, place)
    return Reading(key, value, place=place)
