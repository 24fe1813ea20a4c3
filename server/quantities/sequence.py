"""Symmetrical components of three currents."""

from server.quantities.analysis import Analysis
from server.quantities.quantity import THREE_PHASE, Quantity
from server.quantities.reasons import below, given
from server.readings import Reading, absent
from server.signals import sequence_components

_FORTESCUE = "Fortescue, Trans. AIEE 37 (1918), p. 1027"
_THREE = "three currents, or two of a motor without neutral"
SEQUENCE = (
    Quantity(
        *("current_positive_sequence_a", "I_1", "positive-sequence current", "A", 3),
        *("RMS of (I_L1 + a I_L2 + a² I_L3) / 3, fundamentals", _FORTESCUE, _THREE, THREE_PHASE),
    ),
    Quantity(
        *("current_negative_sequence_a", "I_2", "negative-sequence current", "A", 3),
        *("RMS of (I_L1 + a² I_L2 + a I_L3) / 3, fundamentals", _FORTESCUE, _THREE, THREE_PHASE),
    ),
    Quantity(
        *("current_zero_sequence_a", "I_0", "zero-sequence current", "A", 3),
        *("RMS of (I_L1 + I_L2 + I_L3) / 3, fundamentals", _FORTESCUE, _THREE, THREE_PHASE),
    ),
    Quantity(
        *("current_unbalance_percent", "", "unbalance of the currents", "%", 1),
        *("negative over positive sequence", "IEC 61000-4-30, 5.7 (from memory)", _THREE, THREE_PHASE),
    ),
    Quantity(
        *("current_phase_order", "", "order of the currents", "", 0),
        *("the order in which they peak", "common practice", _THREE, THREE_PHASE),
    ),
)
_UNBALANCE, _ORDER = SEQUENCE[3].key, SEQUENCE[4].key


def sequence_readings(a: Analysis) -> list[Reading]:
    """Readings of `SEQUENCE`; none where there are not three currents.

    With two channels the third current is minus their sum, and the zero sequence is 0 by that.
    """
    three = a.layout.three
    if three is None:
        return []
    rows = [a.layout.rows[k] for k in three]
    why_not = a.silence or next((a.clipped[k] for k in three if a.clipped[k]), "")
    if why_not or not a.fundamental:
        return [absent(quantity.key, why_not) for quantity in SEQUENCE]
    parts = sequence_components(*(a.fundamental[k] for k in three))
    positive, negative, zero = (abs(part) for part in parts)
    limit = max(row.limit for row in rows)
    readings = [
        given(quantity.key, value, doubt=a.unsteady, least=below(value, limit))
        for quantity, value in zip(SEQUENCE, (positive, negative, zero), strict=False)
    ]
    small = f"below {limit:.2g} A: the ratio means nothing"
    if positive < limit:
        readings.append(absent(_UNBALANCE, f"positive sequence {small}"))
    else:
        readings.append(given(_UNBALANCE, 100.0 * negative / positive, doubt=a.unsteady))
    if max(positive, negative) < limit:
        return [*readings, absent(_ORDER, f"both sequences {small}")]
    one, two, other = (row.place if row.minus_of else row.channel.place for row in rows)
    order = f"{one} {two} {other}" if positive >= negative else f"{one} {other} {two}"
    return [*readings, given(_ORDER, order, doubt=a.unsteady)]
