"""What rows that are made of other channels may be off by, each channel with the same error in all that is made of it.

A reading is moved by the relative error of a channel's wave, g for its gain and -j w d for its delay, and by its noise.
For each channel one complex number c says by how much, Re(c) g + Im(c) w d; another says it for the noise. They
add up over all rows that the channel is in before they are squared (JCGM 100, 5.2.2: one input, one sensitivity). Only
fundamentals are counted. Pure.
"""

from collections.abc import Callable
from dataclasses import replace
from math import hypot, inf, pi
from typing import TypeAlias

from server.quantities.analysis import Analysis
from server.quantities.layout import Pair
from server.quantities.power_words import GAINS, NOISE, SKEW
from server.quantities.uncertainty import Standard

Moves: TypeAlias = dict[int, tuple[complex, complex]]  # by the row of the channel: of its own error, of its noise


def is_mixed(a: Analysis, *rows: int) -> bool:
    return any(k in a.layout.made for k in rows)


def weights(a: Analysis, row: int) -> tuple[tuple[int, float], ...]:
    """Rows with channels that it consists of."""
    return a.layout.rows[row].mix or ((row, 1.0),)


def shares(a: Analysis, row: int) -> dict[int, tuple[complex, complex]]:
    """Of each channel's fundamental in the row's own, and of a unit of its noise."""
    own = a.fundamental[row]
    return {s: (w * a.fundamental[s] / own, w / own) for s, w in weights(a, row)}


def of_power(a: Analysis, pair: Pair) -> Moves:
    """Of the active power of the fundamentals, W."""
    volts, amps = a.fundamental[pair.voltage], a.fundamental[pair.current]
    moves = {s: (w * a.fundamental[s] * amps.conjugate(), w * amps.conjugate()) for s, w in weights(a, pair.voltage)}
    for s, w in weights(a, pair.current):
        moves[s] = (volts.conjugate() * w * a.fundamental[s], w * volts.conjugate())
    return moves


def of_reactive(a: Analysis, pair: Pair) -> Moves:
    """Of the reactive power of the fundamentals, var."""
    moves, amps = of_power(a, pair), {s for s, _ in weights(a, pair.current)}
    return {s: ((1j if s in amps else -1j) * own, noise) for s, (own, noise) in moves.items()}


def of_apparent(a: Analysis, pair: Pair) -> Moves:
    """Of U I, VA."""
    size = a.rms[pair.voltage] * a.rms[pair.current]
    return times(size, {**shares(a, pair.voltage), **shares(a, pair.current)})


def of_angle(a: Analysis, row: int) -> Moves:
    """Of the angle of a fundamental, rad."""
    return {s: (-1j * own, noise) for s, (own, noise) in shares(a, row).items()}


def of_effective(a: Analysis, pairs: list[Pair], lines: list[tuple[int, int]], effective: float) -> Moves:
    """Of 3 U_e I_e: each square has its share in the sum of its kind. `lines`: rows between which the voltages are."""
    volts = [
        (of_difference(a, one, other), abs(a.fundamental[one] - a.fundamental[other]) ** 2) for one, other in lines
    ]
    amps = [(shares(a, pair.current), abs(a.fundamental[pair.current]) ** 2) for pair in pairs]
    terms = []
    for its in (volts, amps):
        whole = sum(square for _, square in its)
        terms += [times(effective * square / whole, moves) for moves, square in its]
    return plus(*terms)


def of_difference(a: Analysis, one: int, other: int) -> Moves:
    """Of the size of the fundamental between two rows, relative."""
    between = a.fundamental[one] - a.fundamental[other]
    both = {s: (w * a.fundamental[s] / between, w / between) for s, w in weights(a, one)}
    return plus(both, {s: (-w * a.fundamental[s] / between, -w / between) for s, w in weights(a, other)})


def plus(*terms: Moves) -> Moves:
    total: Moves = {}
    for moves in terms:
        for s, (own, noise) in moves.items():
            before = total.get(s, (0j, 0j))
            total[s] = before[0] + own, before[1] + noise
    return total


def times(factor: float, moves: Moves) -> Moves:
    return {s: (factor * own, factor * noise) for s, (own, noise) in moves.items()}


def parts_of(a: Analysis, moves: Moves, noise_factor: float = 1.0) -> list[Standard]:
    """Noise, gains and delays, each with the root of the sum over the channels."""
    turn = 2.0 * pi * (a.frequency_hz or 0.0)
    its = [(a.spreads[s], own, noise) for s, (own, noise) in moves.items()]
    return [
        (NOISE, noise_factor * hypot(*[spread.rms_noise * abs(noise) for spread, _, noise in its]), its[0][0].dof),
        (GAINS, hypot(*[spread.gain * own.real for spread, own, _ in its]), min(spread.gain_dof for spread, *_ in its)),
        (SKEW, turn * hypot(*[spread.delay * own.imag for spread, own, _ in its]), inf),
    ]


def correlated(
    a: Analysis, parts: list[Standard], moves: Callable[[], Moves], *rows: int, noise_factor: float = 1.0
) -> list[Standard]:
    """A budget whose noise, gains and delays are those of `moves`, where one of these rows is made of others."""
    if not a.layout.made or not is_mixed(a, *rows) or not a.fundamental:  # nearly always
        return parts
    kept = [part for part in parts if part[0] not in (NOISE, GAINS) and not part[0].startswith(SKEW)]
    return [*parts_of(a, moves(), noise_factor), *kept]


def mixed(a: Analysis) -> Analysis:
    """The numbers of a window, with rows that are made of others as sure in size and angle as these make them."""
    if not a.layout.made or not a.fundamental:
        return a
    made = [k for k in a.layout.made if not a.spreads[k].why_not]
    turn, spreads = 2.0 * pi * (a.frequency_hz or 0.0), list(a.spreads)
    for k in made:
        if not a.fundamental[k]:
            continue
        its = [(a.spreads[s], own) for s, (own, _) in shares(a, k).items()]
        size = hypot(*[hypot(spread.gain * own.real, turn * spread.delay * own.imag) for spread, own in its])
        angle = hypot(*[hypot(spread.gain * own.imag, turn * spread.delay * own.real) for spread, own in its])
        why_not = next((spread.why_no_angle for spread, _ in its if spread.why_no_angle), "")
        spreads[k] = replace(spreads[k], gain=size, delay=angle / turn, why_no_angle=why_not)
    return replace(a, spreads=spreads)
