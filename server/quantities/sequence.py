"""Symmetrical components of three currents."""

from server.quantities.analysis import Analysis
from server.quantities.quantity import Quantity
from server.readings import Confidence, Reading, absent
from server.signals import sequence_components

_FORTESCUE = "RMS of the fundamental, Fortescue (1918)"
SEQUENCE = (
    Quantity("current_positive_sequence_a", "I_1", "positive-sequence current", "A", 3, _FORTESCUE),
    Quantity("current_negative_sequence_a", "I_2", "negative-sequence current", "A", 3, _FORTESCUE),
    Quantity("current_zero_sequence_a", "I_0", "zero-sequence current", "A", 3, _FORTESCUE),
    Quantity("current_unbalance_percent", "I_2/I_1", "unbalance of the currents", "%", 1, "negative over positive"),
    Quantity("current_phase_order", "", "order of the currents", "", 0, "the order in which they peak"),
)


def sequence_readings(a: Analysis) -> list[Reading]:
    """Readings of `SEQUENCE`; none where there are not three currents."""
    three = a.layout.three
    if three is None:
        return []
    rows = [a.layout.rows[k] for k in three]
    keys = [quantity.key for quantity in SEQUENCE]
    why_not = a.silence or next((a.clipped[k] for k in three if a.clipped[k]), "")
    if why_not or a.orders is None:
        return [absent(key, why_not) for key in keys]
    parts = sequence_components(*(complex(a.orders[k, 0]) for k in three))
    positive, negative, zero = (abs(part) for part in parts)
    names = [row.place or row.channel.place for row in rows]
    order = " ".join(names if positive >= negative else (names[0], names[2], names[1]))
    values = [positive, negative, zero]
    made: list[Reading] = [_given(key, value, a.unsteady) for key, value in zip(keys, values, strict=False)]
    limit = max(row.limit for row in rows)
    if max(positive, negative) < limit:
        reason = f"currents below {limit:.2g} A: the ratio means nothing"
        return made + [absent(key, reason) for key in keys[3:]]
    if positive < limit:
        made.append(absent(keys[3], f"positive sequence below {limit:.2g} A: the ratio means nothing"))
    else:
        made.append(_given(keys[3], 100.0 * negative / positive, a.unsteady))
    return [*made, _given(keys[4], order, a.unsteady)]


def _given(key: str, value: float | str, doubt: str) -> Reading:
    return Reading(key, value, Confidence.DOUBTFUL, doubt) if doubt else Reading(key, value)
