"""What three phases make together: powers of the motor as a whole, each apparent power with its definition. Pure."""

from math import hypot, inf, pi, sqrt

from server.quantities.analysis import Analysis, between
from server.quantities.layout import Pair
from server.quantities.mixed import (
    Moves,
    correlated,
    is_mixed,
    of_apparent,
    of_difference,
    of_effective,
    of_power,
    parts_of,
    plus,
    times,
)
from server.quantities.power import doubt_of, least_of, non_active, small_of
from server.quantities.power_spread import added, apparent_parts, factor_parts, power_parts, unknown
from server.quantities.power_words import GAINS, NOISE, SKEW
from server.quantities.quantity import THREE_PHASE, Quantity
from server.quantities.reasons import below, given, joined
from server.quantities.uncertainty import Standard, combined
from server.readings import Reading, absent

_IEEE = "IEEE 1459-2010 (from memory)"
_OF_ANGLE = 1 / sqrt(12.0)  # relative change of a side of the triangle by the angle of one of its corners
_ALL = "three voltages and three currents, or two of a motor without neutral"
TOGETHER = (
    Quantity(
        *("line_voltage_rms_v", "U_L", "voltage between lines, RMS", "V", 1),
        *("root of the mean square of the difference of two voltages", "IEC 61000-4-30, 5.2 (from memory)"),
        *("three voltages, or two between lines", THREE_PHASE),
    ),
    Quantity(
        *("arithmetic_apparent_power_va", "S_A", "apparent power, arithmetic", "VA", 1),
        *("sum of U I of the three phases", f"{_IEEE}, 3.2.2.5", _ALL, THREE_PHASE),
    ),
    Quantity(
        *("effective_apparent_power_va", "S_e", "apparent power, effective", "VA", 1),
        "3 U_e I_e of the balanced system with the same losses; three wires: U_e² = sum of squared line voltages / 9",
        *(f"{_IEEE}, 3.2.2.8", _ALL, THREE_PHASE),
    ),
    Quantity(
        *("effective_power_factor", "PF_e", "power factor, effective", "", 3),
        *("P / S_e", f"{_IEEE}, 3.2.2.8", _ALL, THREE_PHASE),
    ),
)


def together_readings(a: Analysis) -> list[Reading]:
    """P, S, PF and N of the three phases, without a place; none where there are not three pairs.

    The power factor without a name is over the arithmetic apparent power.
    """
    if not a.layout.three_pairs:
        return line_voltages(a)
    pairs = [a.layout.pairs[n] for n in a.layout.three_pairs]
    power = sum(a.power[n] for n in a.layout.three_pairs)
    doubt = joined(*dict.fromkeys(each for pair in pairs if (each := doubt_of(a, pair))))
    leasts = [least_of(a, pair) for pair in pairs]
    least = sum(filter(None, leasts)) if all(leasts) else None  # one phase that carries power is measured
    known = not doubt and not any(unknown(a, pair) for pair in pairs) and all(a.rms)
    sure = None
    if known:
        its = zip(a.layout.three_pairs, pairs, strict=True)
        parts = added([power_parts(a, pair, a.power[n]) for n, pair in its])
        parts = correlated(a, parts, lambda: _power(a, pairs), *_rows(pairs))
        scatter = sum(standard for source, standard, _ in parts if source == NOISE)
        sure = combined(power, parts, scatter=scatter)
    total = given("active_power_w", power, "", doubt, least, sure)
    lost = joined(doubt, *dict.fromkeys(a.cut_off(k) for pair in pairs for k in (pair.voltage, pair.current)))
    return [*line_voltages(a), total, *_apparents(a, pairs, power, lost, least, known and not lost)]


def _rows(pairs: list[Pair]) -> list[int]:
    return [k for pair in pairs for k in (pair.voltage, pair.current)]


def _power(a: Analysis, pairs: list[Pair]) -> Moves:
    return plus(*[of_power(a, pair) for pair in pairs])


def _apparent(a: Analysis, pairs: list[Pair]) -> Moves:
    return plus(*[of_apparent(a, pair) for pair in pairs])


def line_voltages(a: Analysis) -> list[Reading]:
    """The three between lines, whichever way they were measured; none where there are not three voltages."""
    three = a.layout.three_voltages
    if three is None:
        return []
    names, turn = [a.layout.rows[k].name for k in three], 2.0 * pi * (a.frequency_hz or 0.0)
    readings = []
    for n, square in enumerate(a.line_squares or [0.0] * 3):
        one, other = three[n], three[(n + 1) % 3]
        value, place = sqrt(max(square, 0.0)), f"{names[n]}-{names[(n + 1) % 3]}"
        fast = a.cut_off(one) or a.cut_off(other) or a.folded(one) or a.folded(other)
        doubt = joined(a.clipped[one] or a.clipped[other], fast, a.partial)
        limit = max(a.layout.rows[k].limit for k in (one, other))
        both = [a.spreads[k] for k in (one, other)]
        sure = None
        if not doubt and not any(spread.why_no_angle for spread in both):
            # Each of two phases 120 degrees apart has half a share in what is between them.
            parts = [
                (NOISE, hypot(*(spread.rms_noise for spread in both)), both[0].dof),
                (GAINS, 0.5 * value * hypot(*(spread.gain for spread in both)), inf),
                (SKEW, _OF_ANGLE * value * turn * hypot(*(spread.delay for spread in both)), inf),
            ]
            if is_mixed(a, one, other) and a.fundamental:
                parts = parts_of(a, times(value, of_difference(a, one, other, value)))
            sure = combined(value, parts, 0.0)
        readings.append(given("line_voltage_rms_v", value, place, doubt, below(value, limit), sure))
    return readings


def _apparents(
    a: Analysis, pairs: list[Pair], power: float, doubt: str, least: float | None, known: bool
) -> list[Reading]:
    arithmetic = sum(a.rms[pair.voltage] * a.rms[pair.current] for pair in pairs)
    effective = effective_apparent(a, pairs)
    parts = added([apparent_parts(a, pair) for pair in pairs]) if known else []
    parts = correlated(a, parts, lambda: _apparent(a, pairs), *_rows(pairs))
    sure = combined(arithmetic, parts, 0.0) if known else None
    # Both grow with each RMS alike where the phases are, which is where the parts count.
    shares = [(source, each * effective / arithmetic, dof) for source, each, dof in parts] if arithmetic else []
    shares = correlated(a, shares, lambda: of_effective(a, pairs, between(a.layout), effective), *_rows(pairs))
    of_s_e = combined(effective, shares, 0.0) if known else None
    shown = [
        given("arithmetic_apparent_power_va", arithmetic, "", doubt, least, sure),
        given("effective_apparent_power_va", effective, "", doubt, least, of_s_e),
    ]
    smalls = [small_of(a, pair, a.rms[pair.voltage], a.rms[pair.current]) for pair in pairs]
    if all(smalls):
        keys = ("power_factor", "effective_power_factor", "non_active_power_var")
        return shown + [absent(key, smalls[0]) for key in keys]
    factor, other = (max(-1.0, min(1.0, power / each)) for each in (arithmetic, effective))
    ratio = _factor_parts(a, pairs, factor, arithmetic) if known else []
    of_other = _effective_parts(a, pairs, other, effective, ratio) if known else []
    return [
        *shown,
        given("power_factor", factor, "", doubt, None, combined(factor, ratio, -1.0, 1.0) if known else None),
        given(
            "effective_power_factor", other, "", doubt, None, combined(other, of_other, -1.0, 1.0) if known else None
        ),
        non_active(power, arithmetic, ratio, "", doubt, sure),
    ]


def _factor_parts(a: Analysis, pairs: list[Pair], factor: float, apparent: float) -> list[Standard]:
    """Of a mean of the phases' power factors, weighted by their shares; unequal gains move the weights."""
    lists = []
    for n, pair in zip(a.layout.three_pairs, pairs, strict=True):
        own = a.rms[pair.voltage] * a.rms[pair.current]
        if not own:
            continue
        share, its = own / apparent, a.power[n] / own
        moved = share * abs(its - factor) * hypot(a.spreads[pair.voltage].gain, a.spreads[pair.current].gain)
        parts = [(source, share * each, dof) for source, each, dof in factor_parts(a, pair, its)]
        lists.append([*parts, (GAINS, moved, inf)])

    def moves() -> Moves:
        return plus(times(1.0 / apparent, _power(a, pairs)), times(-factor / apparent, _apparent(a, pairs)))

    return correlated(a, added(lists), moves, *_rows(pairs))


def _effective_parts(
    a: Analysis, pairs: list[Pair], factor: float, effective: float, ratio: list[Standard]
) -> list[Standard]:
    """Of P / S_e: a phase has its share of P, and another one of the squares that S_e is made of."""
    rows = zip(*((pair.voltage, pair.current) for pair in pairs), strict=True)
    squares = [sum(a.rms[k] ** 2 for k in its) for its in rows]
    gains, noises = [], []
    for n, pair in zip(a.layout.three_pairs, pairs, strict=True):
        own = a.power[n] / effective
        for k, other, total in ((pair.voltage, pair.current, squares[0]), (pair.current, pair.voltage, squares[1])):
            share = factor * a.rms[k] ** 2 / total
            gains.append((own - share) * a.spreads[k].gain)
            along = (a.rms[other] * a.rms[k] / effective) ** 2 - 2.0 * share * own + share**2
            noises.append(sqrt(max(along, 0.0)) * a.spreads[k].rms_noise / a.rms[k])
    rest = [part for part in ratio if part[0] not in (GAINS, NOISE)]
    parts = [*rest, (GAINS, hypot(*gains), inf), (NOISE, hypot(*noises), a.spreads[pairs[0].voltage].dof)]

    def moves() -> Moves:
        of_s_e = times(-factor / effective, of_effective(a, pairs, between(a.layout), effective))
        return plus(times(1.0 / effective, _power(a, pairs)), of_s_e)

    return correlated(a, parts, moves, *_rows(pairs))


def effective_apparent(a: Analysis, pairs: list[Pair]) -> float:
    """Three wires: 3 U_e I_e with U_e from the line voltages, which need no neutral (IEEE 1459-2010, from memory)."""
    amps = sum(a.rms[pair.current] ** 2 for pair in pairs) / 3.0
    return 3.0 * sqrt(amps * sum(a.line_squares) / 9.0)
