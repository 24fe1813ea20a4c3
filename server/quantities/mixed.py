"""What rows that are made of other channels may be off by, each channel with the same error in all that is made of it.

A reading is moved by the relative error of a channel's wave, g for its gain and -j h w d of order h for its delay, and
by its noise. For each channel one complex number an order says by how much, Re(c) g + Im(c) h w d; another says it for
the noise. They add up over all rows that the channel is in before they are squared (JCGM 100, 5.2.2: one input, one
sensitivity). Of powers and RMS all orders count, of fundamentals one; what a mean adds is not counted. Pure.
"""

from collections.abc import Callable
from dataclasses import replace
from math import hypot, inf, pi
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from server.quantities.analysis import Analysis
from server.quantities.layout import Pair
from server.quantities.power_words import GAINS, NOISE, SKEW
from server.quantities.uncertainty import Standard

Orders: TypeAlias = NDArray[np.complex128]  # (orders,), order 1 first
Moves: TypeAlias = dict[int, tuple[Orders, Orders]]  # by the row of the channel: of its own error, of its noise


def is_mixed(a: Analysis, *rows: int) -> bool:
    made = a.layout.made
    return bool(made) and any(k in made for k in rows)


def weights(a: Analysis, row: int) -> tuple[tuple[int, float], ...]:
    """Rows with channels that it consists of."""
    return a.layout.rows[row].mix or ((row, 1.0),)


def _wave(a: Analysis, row: int) -> Orders:
    """RMS phasors, its channel's delay taken off as far as it differs from that of the first row."""
    assert a.phasors is not None
    phasors: Orders = a.phasors[row]
    late_s = a.layout.rows[row].channel.delay_s - a.layout.rows[0].channel.delay_s
    if not late_s:
        return phasors
    return phasors * np.exp(2j * pi * (a.frequency_hz or 0.0) * late_s * np.arange(1, phasors.shape[0] + 1))


def _projected(a: Analysis, row: int, onto: Orders) -> Moves:
    """Of the mean product of a row and another wave."""
    return {s: (w * _wave(a, s) * onto.conj(), w * onto.conj()) for s, w in weights(a, row)}


def of_power(a: Analysis, pair: Pair) -> Moves:
    """Of the active power, W."""
    volts, amps = _wave(a, pair.voltage), _wave(a, pair.current)
    return plus(_projected(a, pair.voltage, amps), _projected(a, pair.current, volts))


def of_rms(a: Analysis, row: int) -> Moves:
    """Of an RMS, relative."""
    return times(1.0 / a.rms[row] ** 2, _projected(a, row, _wave(a, row)))


def of_difference(a: Analysis, one: int, other: int, rms: float) -> Moves:
    """Of the RMS of what is between two rows, relative."""
    between = _wave(a, one) - _wave(a, other)
    both = plus(_projected(a, one, between), times(-1.0, _projected(a, other, between)))
    return times(1.0 / rms**2, both)


def of_apparent(a: Analysis, pair: Pair) -> Moves:
    """Of U I, VA."""
    size = a.rms[pair.voltage] * a.rms[pair.current]
    return times(size, plus(of_rms(a, pair.voltage), of_rms(a, pair.current)))


def of_effective(a: Analysis, pairs: list[Pair], lines: list[tuple[int, int]], effective: float) -> Moves:
    """Of 3 U_e I_e: each square has its share in the sum of its kind. `lines`: rows between which the voltages are."""
    squares = a.line_squares
    volts = [(of_difference(a, *ends, square**0.5), square) for ends, square in zip(lines, squares, strict=True)]
    amps = [(of_rms(a, pair.current), a.rms[pair.current] ** 2) for pair in pairs]
    terms = []
    for its in (volts, amps):
        whole = sum(square for _, square in its)
        terms += [times(effective * square / whole, moves) for moves, square in its]
    return plus(*terms)


def of_phasor(a: Analysis, row: int) -> Moves:
    """Of a fundamental, relative: Re of its size, as an angle -j times it."""
    own = _wave(a, row)[:1]
    return {s: (w * _wave(a, s)[:1] / own, w / own) for s, w in weights(a, row)}


def of_angle(a: Analysis, row: int) -> Moves:
    """Of the angle of a fundamental, rad."""
    return {s: (-1j * own, noise) for s, (own, noise) in of_phasor(a, row).items()}


def of_reactive(a: Analysis, pair: Pair) -> Moves:
    """Of the reactive power of the fundamentals, var."""
    volts, amps = _wave(a, pair.voltage)[:1], _wave(a, pair.current)[:1]
    moves = {s: (-1j * w * _wave(a, s)[:1] * amps.conj(), w * amps.conj()) for s, w in weights(a, pair.voltage)}
    for s, w in weights(a, pair.current):
        moves[s] = (1j * w * _wave(a, s)[:1] * volts.conj(), w * volts.conj())
    return moves


def plus(*terms: Moves) -> Moves:
    total: Moves = {}
    for moves in terms:
        for s, (own, noise) in moves.items():
            before = total.get(s)
            total[s] = (own, noise) if before is None else (before[0] + own, before[1] + noise)
    return total


def times(factor: float, moves: Moves) -> Moves:
    return {s: (factor * own, factor * noise) for s, (own, noise) in moves.items()}


def parts_of(a: Analysis, moves: Moves, noise_factor: float = 1.0) -> list[Standard]:
    """Noise, gains and delays, each with the root of the sum over the channels."""
    turn = 2.0 * pi * (a.frequency_hz or 0.0)
    noise, gains, delays = [], [], []
    for s, (own, of_noise) in moves.items():
        spread, order = a.spreads[s], np.arange(1, own.shape[0] + 1)
        noise.append(spread.rms_noise * float(np.vdot(of_noise, of_noise).real) ** 0.5)
        gains.append(spread.gain * float(own.real.sum()))
        delays.append(turn * spread.delay * float(order @ own.imag))
    its = [a.spreads[s] for s in moves]
    return [
        (NOISE, noise_factor * hypot(*noise), its[0].dof),
        (GAINS, hypot(*gains), min(spread.gain_dof for spread in its)),
        (SKEW, hypot(*delays), inf),
    ]


def correlated(
    a: Analysis, parts: list[Standard], moves: Callable[[], Moves], *rows: int, noise_factor: float = 1.0
) -> list[Standard]:
    """A budget whose noise, gains and delays are those of `moves`, where one of these rows is made of others."""
    if not a.layout.made or not is_mixed(a, *rows) or not a.fundamental:
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
        its = [(a.spreads[s], complex(own[0])) for s, (own, _) in of_phasor(a, k).items()]
        size = hypot(*[hypot(spread.gain * own.real, turn * spread.delay * own.imag) for spread, own in its])
        angle = hypot(*[hypot(spread.gain * own.imag, turn * spread.delay * own.real) for spread, own in its])
        why_not = next((spread.why_no_angle for spread, _ in its if spread.why_no_angle), "")
        spreads[k] = replace(spreads[k], gain=size, delay=angle / turn, why_no_angle=why_not)
    return replace(a, spreads=spreads)
