"""Harmonics and total harmonic distortion of each voltage and current."""

from server.quantities.analysis import ORDERS, THD_ORDER_MAX, Analysis
from server.quantities.quantity import ALTERNATING, Quantity
from server.quantities.reasons import GAP, given, joined, too_small
from server.readings import Reading, absent

_THD = "root of the summed squares of orders 2 to 40, over the fundamental"
_FROM = "IEC 61000-4-7, 3.3.1 (from memory)"
HARMONICS = (
    Quantity(
        *("current_harmonics_a", "I_h", "harmonics of the current", "A", 4),
        *("RMS of orders 1 to 50, each at its own frequency", "IEC 61000-4-7, 3.2 (from memory)", "a current channel"),
        ALTERNATING,
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
    for k, row in enumerate(a.layout.rows):
        if row.steady or not row.wave:
            continue
        why_not = GAP if a.partial else a.silence or a.clipped[k]
        if not row.is_voltage:
            readings.append(_list(a, k, why_not))
        readings.append(_thd(a, k, why_not, "voltage_thd_percent" if row.is_voltage else "current_thd_percent"))
    return readings


def _list(a: Analysis, k: int, why_not: str) -> Reading:
    place = a.layout.rows[k].place
    if why_not or a.order_max[k] < 1:
        return absent("current_harmonics_a", why_not or _ends(a, k), place)
    highest = a.order_max[k]
    doubt = a.unsteady if highest == ORDERS else joined(_ends(a, k), a.unsteady)
    return given("current_harmonics_a", tuple(a.harmonics[k][:highest]), place, doubt)


def _thd(a: Analysis, k: int, why_not: str, key: str) -> Reading:
    row = a.layout.rows[k]
    if why_not or a.order_max[k] < 2:
        return absent(key, why_not or _ends(a, k), row.place)
    fundamental = a.harmonics[k][0]
    if fundamental < row.limit:
        return absent(key, too_small(row), row.place)
    doubt = a.unsteady
    if a.order_max[k] < THD_ORDER_MAX:
        doubt = joined(f"orders 2 to {a.order_max[k]} alone: {_ends(a, k)}", a.unsteady)
    return given(key, 100.0 * a.distortion[k] / fundamental, row.place, doubt)


def _ends(a: Analysis, k: int) -> str:
    """Why there is no higher order."""
    highest, channel = a.order_max[k], a.layout.rows[k].channel
    if highest < a.orders:
        return f"orders from {highest + 1} on are above the channel's upper corner, {channel.corner_high_hz:.6g} Hz"
    return f"orders from {highest + 1} on are not below half the sample rate, {a.rate_hz / 2:.6g} Hz"
