"""Symmetrical components of three currents and three voltages, their unbalance and order."""

from cmath import exp, pi
from dataclasses import dataclass
from math import hypot, inf

from server.quantities.analysis import Analysis, between
from server.quantities.mixed import is_mixed, of_difference, parts_of, plus, times, weights
from server.quantities.quantity import THREE_PHASE, Quantity
from server.quantities.reasons import below, given
from server.quantities.spread import LEAN
from server.quantities.uncertainty import Standard, of_magnitude
from server.readings import Reading, Uncertainty, absent
from server.signals import sequence_components

_FORTESCUE = "Fortescue, Trans. AIEE 37 (1918), p. 1027"
_CURRENTS = "three currents, or two of a motor without neutral"
_VOLTAGES = "three voltages against neutral or an artificial star"
_PARTS = (
    ("positive", "1", "(a + α b + α² c) / 3"),
    ("negative", "2", "(a + α² b + α c) / 3"),
    ("zero", "0", "(a + b + c) / 3"),
)


@dataclass(frozen=True, slots=True)
class _Kind:
    """One of the two families: how its keys begin, its unit there and in words, the letter of its symbols."""

    name: str
    end: str
    unit: str
    letter: str
    needs: str
    digits: int

    @property
    def keys(self) -> tuple[str, ...]:
        return tuple(f"{self.name}_{part}_sequence_{self.end}" for part, _, _ in _PARTS)

    @property
    def unbalance(self) -> str:
        return f"{self.name}_unbalance_percent"

    @property
    def order(self) -> str:
        return f"{self.name}_phase_order"


_CURRENT = _Kind("current", "a", "A", "I", _CURRENTS, 3)
_VOLTAGE = _Kind("voltage", "v", "V", "U", _VOLTAGES, 2)
_DEVIATION = "voltage_max_deviation_percent"


def _entries(kind: _Kind) -> tuple[Quantity, ...]:
    components = tuple(
        Quantity(
            f"{kind.name}_{part}_sequence_{kind.end}",
            f"{kind.letter}_{index}",
            f"{part}-sequence {kind.name}",
            kind.unit,
            kind.digits,
            f"RMS of {formula}, fundamentals",
            *(_FORTESCUE, kind.needs, THREE_PHASE),
        )
        for part, index, formula in _PARTS
    )
    return (
        *components,
        Quantity(
            *(kind.unbalance, "", f"unbalance of the {kind.name}s", "%", 1, "negative over positive sequence"),
            *("IEC 61000-4-30, 5.7 (from memory)", kind.needs, THREE_PHASE),
        ),
        Quantity(
            *(kind.order, "", f"order of the {kind.name}s", "", 0, "the order in which they peak"),
            *("common practice", kind.needs, THREE_PHASE),
        ),
    )


SEQUENCE = (
    *_entries(_CURRENT),
    *_entries(_VOLTAGE),
    Quantity(
        *(_DEVIATION, "", "largest deviation of the line voltages", "%", 1),
        "largest deviation of a voltage between lines from their mean, over the mean",
        *("NEMA MG 1, 14.36 (from memory)", _VOLTAGES, THREE_PHASE),
    ),
)
_TURN = exp(2j * pi / 3)
_OF_ONE = 1 / 18**0.5  # of three lines: a sixth of what two are off by less a third of the other; of angles the same
_FACTORS = ((1.0, _TURN, _TURN**2), (1.0, _TURN**2, _TURN), (1.0, 1.0, 1.0))


def sequence_readings(a: Analysis) -> list[Reading]:
    """Readings of `SEQUENCE`; none where there are not three.

    With two current channels the third current is minus their sum, and the zero sequence is 0 by that.
    """
    readings = []
    for three, kind in ((a.layout.three, _CURRENT), (a.layout.three_voltages, _VOLTAGE)):
        if three is not None:
            readings += _of_three(a, three, kind)
    return readings + (_deviation(a) if a.layout.three_voltages is not None else [])


def _of_three(a: Analysis, three: tuple[int, int, int], kind: _Kind) -> list[Reading]:
    rows = [a.layout.rows[k] for k in three]
    why_not = a.silence or next((a.clipped[k] for k in three if a.clipped[k]), "")
    if why_not or not a.fundamental:
        return [absent(key, why_not) for key in (*kind.keys, kind.unbalance, kind.order)]
    parts = sequence_components(*(a.fundamental[k] for k in three))
    positive, negative, zero = (abs(part) for part in parts)
    limit = max(row.limit for row in rows)
    known = not a.unsteady and not any(a.spreads[k].why_no_angle for k in three)
    budgets = [_parts(a, three, n, part) for n, part in enumerate(parts)] if known else [[], [], []]
    readings = []
    for key, value, budget in zip(kind.keys, (positive, negative, zero), budgets, strict=True):
        sure = of_magnitude(value, [*budget, (LEAN, a.lean * value, inf)] if a.lean else budget) if known else None
        least = None if known else below(value, limit)  # where noise is in an interval, no other bound is told
        readings.append(given(key, value, "", a.unsteady, least, sure))
    small = f"below {limit:.2g} {kind.unit}: the ratio means nothing"
    if positive < limit:
        readings.append(absent(kind.unbalance, f"positive sequence {small}"))
    else:
        sure = _ratio(negative, positive, budgets[1], budgets[0]) if known else None
        readings.append(given(kind.unbalance, 100.0 * negative / positive, "", a.unsteady, None, sure))
    if max(positive, negative) < limit:
        return [*readings, absent(kind.order, f"both sequences {small}")]
    one, two, other = (row.name for row in rows)
    order = f"{one} {two} {other}" if positive >= negative else f"{one} {other} {two}"
    return [*readings, given(kind.order, order, "", a.unsteady)]


def _parts(a: Analysis, three: tuple[int, int, int], component: int, phasor: complex) -> list[Standard]:
    """Gains and delays of each channel as they show along the phasor; noise alike in all directions.

    Where the phasor is nothing beside them, each of its two directions has half of them.
    """
    turn, factors = 2.0 * pi * (a.frequency_hz or 0.0), dict[int, complex]()
    for row, factor in zip(three, _FACTORS[component], strict=True):
        for k, weight in weights(a, row):
            factors[k] = factors.get(k, 0j) + weight * factor / 3.0
    noise = hypot(*(a.spreads[k].rms_noise * abs(factor) for k, factor in factors.items())) * a.phasor_noise
    along = phasor.conjugate() / abs(phasor) if phasor else 1.0
    each = [
        (a.fundamental[k] * factor * along, a.spreads[k].gain, turn * a.spreads[k].delay)
        for k, factor in factors.items()
    ]
    gains = hypot(*[share.real * gain for share, gain, _ in each])
    delays = hypot(*[share.imag * delay for share, _, delay in each])
    every = hypot(*[abs(share) * hypot(gain, delay) for share, gain, delay in each])
    if abs(phasor) < 2.0 * hypot(noise, every):
        return [("noise", noise, a.spreads[three[0]].dof), ("gains and delays of the channels", every / 2.0**0.5, inf)]
    return [
        ("noise", noise, a.spreads[three[0]].dof),
        ("gains of the channels", gains, inf),
        ("delays between the channels", delays, inf),
    ]


def _ratio(above: float, below_it: float, its: list[Standard], others: list[Standard]) -> Uncertainty:
    """Of a small share of a large one: what the large one is off by hardly counts."""
    parts = [(source, 100.0 * standard / below_it, dof) for source, standard, dof in its]
    share = 100.0 * above / below_it
    rest = hypot(*[standard for _, standard, _ in others]) / below_it
    return of_magnitude(share, [*parts, ("the positive sequence", share * rest, inf)])


def _deviation(a: Analysis) -> list[Reading]:
    three = a.layout.three_voltages
    assert three is not None
    limit = max(a.layout.rows[k].limit for k in three)
    if not a.line_squares:
        return [absent(_DEVIATION, a.silence or "the window has a gap")]
    lines = [square**0.5 for square in a.line_squares]
    mean = sum(lines) / 3.0
    doubt = next((a.clipped[k] for k in three if a.clipped[k]), "")
    if mean < limit:
        return [absent(_DEVIATION, f"line voltages below {limit:.2g} V: the ratio means nothing")]
    value = 100.0 * max(abs(line - mean) for line in lines) / mean
    if doubt or any(a.spreads[k].why_no_angle for k in three):
        return [given(_DEVIATION, value, "", doubt)]
    turn = 2.0 * pi * (a.frequency_hz or 0.0)
    gains = _OF_ONE * 100.0 * hypot(*(a.spreads[k].gain for k in three))
    delays = _OF_ONE * 100.0 * turn * hypot(*(a.spreads[k].delay for k in three))
    noise = 100.0 * hypot(*(a.spreads[k].rms_noise for k in three)) / (3**0.5 * mean)
    parts = [
        ("noise", noise, a.spreads[three[0]].dof),
        ("gains of the channels", gains, inf),
        ("delays between the channels", delays, inf),
    ]
    if is_mixed(a, *three):
        parts = _of_mixed(a, lines, mean)
    return [given(_DEVIATION, value, "", "", None, of_magnitude(value, parts))]


def _of_mixed(a: Analysis, lines: list[float], mean: float) -> list[Standard]:
    """Of the line that deviates most, less a third of all."""
    each = [
        times(100.0 * line / mean, of_difference(a, *ends, line))
        for line, ends in zip(lines, between(a.layout), strict=True)
    ]
    most = max(range(3), key=lambda n: abs(lines[n] - mean))
    return parts_of(a, plus(each[most], *[times(-1 / 3, one) for one in each]))
