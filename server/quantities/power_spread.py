"""What powers and ratios of a pair of voltage and current may be off by (JCGM 100, 5.1: sensitivities). Pure.

Gains, delays and offsets of the two channels are independent parts. What both have in common drops out where it does:
gains in a power factor, the same delay in a phase angle.
"""

from math import hypot, inf, pi, sqrt

from server.quantities.analysis import Analysis
from server.quantities.layout import Pair
from server.quantities.mixed import Moves, correlated, is_mixed, of_apparent, of_power, of_reactive, plus, times
from server.quantities.power_words import GAINS, NOISE, OFFSETS, SKEW, SQUARES, STEPS
from server.quantities.spread import LEAN
from server.quantities.uncertainty import NORMAL_95, Standard
from server.readings import Uncertainty
from server.samples import Part


def unknown(a: Analysis, pair: Pair) -> str:
    """Why nothing can be said of the pair, or empty."""
    one, other = a.spreads[pair.voltage], a.spreads[pair.current]
    if _found_skew(a, pair):
        return one.why_not or other.why_not
    return one.why_no_angle or other.why_no_angle


def _dof(a: Analysis, pair: Pair) -> float:
    return min(a.spreads[pair.voltage].dof, a.spreads[pair.current].dof)


def _gain_dof(a: Analysis, pair: Pair) -> float:
    """Of a calibration; a limit that is stated has no end of them."""
    return min(a.spreads[pair.voltage].gain_dof, a.spreads[pair.current].gain_dof)


def _skew(a: Analysis, pair: Pair) -> float:
    """Of the angle by which the fundamentals are shifted against each other, rad.

    A delay that was found against this voltage is known beside it, whatever the voltage's own is.
    """
    found = _found_skew(a, pair)
    both_s = hypot(a.spreads[pair.voltage].delay, a.spreads[pair.current].delay)
    return 2.0 * pi * (a.frequency_hz or 0.0) * (both_s if found is None else found.standard)


def _found_skew(a: Analysis, pair: Pair) -> Part | None:
    if a.layout.made and is_mixed(a, pair.voltage, pair.current):
        return None
    voltage, current = a.layout.rows[pair.voltage].channel, a.layout.rows[pair.current].channel
    return current.skew if current.skew_from == voltage.index else None


def _by_skew(a: Analysis, pair: Pair, share: float) -> Standard:
    """What the shift leaves of a quantity that changes by `share` a radian; its words name a calibration."""
    found = _found_skew(a, pair)
    if found is None:
        return SKEW, share * _skew(a, pair), inf
    return f"{SKEW}: {found.origin}", share * _skew(a, pair), found.dof


def _reactive(a: Analysis, pair: Pair) -> float:
    """Fundamental reactive power, var; 0 without a fundamental."""
    return (a.fundamental[pair.voltage] * a.fundamental[pair.current].conjugate()).imag if a.fundamental else 0.0


def power_noise(a: Analysis, pair: Pair) -> float:
    """Standard uncertainty of the active power by what is new in each window, W."""
    one, other = a.spreads[pair.voltage], a.spreads[pair.current]
    return hypot(one.rms_noise * a.rms[pair.current], other.rms_noise * a.rms[pair.voltage])


def power_parts(a: Analysis, pair: Pair, power: float) -> list[Standard]:
    """Of the active power, W. A delay turns reactive power of each order into active power."""
    one, other = a.spreads[pair.voltage], a.spreads[pair.current]
    volts, amps = a.rms[pair.voltage], a.rms[pair.current]
    mean_v, mean_a = a.mean[pair.voltage], a.mean[pair.current]
    reactive = _reactive(a, pair)
    offsets = hypot(one.offset * max(abs(mean_a), other.offset), other.offset * max(abs(mean_v), one.offset))
    parts = [
        (NOISE, power_noise(a, pair), _dof(a, pair)),
        (GAINS, abs(power) * hypot(one.gain, other.gain), _gain_dof(a, pair)),
        (OFFSETS, offsets, inf),
        _by_skew(a, pair, abs(reactive)),
        (STEPS, hypot(one.step * amps, other.step * volts), inf),
    ]
    return correlated(a, parts, lambda: of_power(a, pair), pair.voltage, pair.current)


def apparent_parts(a: Analysis, pair: Pair) -> list[Standard]:
    """Of U I, VA."""
    one, other = a.spreads[pair.voltage], a.spreads[pair.current]
    volts, amps = a.rms[pair.voltage], a.rms[pair.current]
    return [
        (NOISE, hypot(one.rms_noise * amps, other.rms_noise * volts), _dof(a, pair)),
        (GAINS, volts * amps * hypot(one.gain, other.gain), _gain_dof(a, pair)),
        (OFFSETS, hypot(*_offset_shares(a, pair)) * volts * amps, inf),
        (STEPS, hypot(one.step * amps, other.step * volts), inf),
    ]


def _offset_shares(a: Analysis, pair: Pair) -> tuple[float, float]:
    """What the offsets may add to the two RMS, relative."""
    shares = []
    for k in (pair.voltage, pair.current):
        spread = a.spreads[k]
        shares.append(max(abs(a.mean[k]), spread.offset) * spread.offset / (a.rms[k] * a.rms[k]))
    return shares[0], shares[1]


def factor_parts(a: Analysis, pair: Pair, factor: float) -> list[Standard]:
    """Of P / S. Gains drop out; near 1 noise and skew count by their squares. A delay turns fundamental reactive power
    into active power; what other orders add is not counted."""
    one, other = a.spreads[pair.voltage], a.spreads[pair.current]
    noise = hypot(one.rms_noise / a.rms[pair.voltage], other.rms_noise / a.rms[pair.current])
    shift, across = _skew(a, pair), sqrt(max(0.0, 1.0 - factor * factor))
    apparent = a.rms[pair.voltage] * a.rms[pair.current]
    parts = [
        (NOISE, across * noise, _dof(a, pair)),
        (OFFSETS, abs(factor) * hypot(*_offset_shares(a, pair)), inf),
        _by_skew(a, pair, abs(_reactive(a, pair)) / apparent),
        (SQUARES, 0.5 * (shift * shift + noise * noise), inf),
    ]

    def moves() -> Moves:
        return plus(times(1.0 / apparent, of_power(a, pair)), times(-factor / apparent, of_apparent(a, pair)))

    return correlated(a, parts, moves, pair.voltage, pair.current)


def angle_parts(a: Analysis, pair: Pair) -> list[Standard]:
    """Of the phase angle between the fundamentals, rad."""
    one, other = a.spreads[pair.voltage], a.spreads[pair.current]
    root = a.phasor_noise * hypot(
        one.rms_noise / abs(a.fundamental[pair.voltage]), other.rms_noise / abs(a.fundamental[pair.current])
    )
    return [(NOISE, root, _dof(a, pair)), _by_skew(a, pair, 1.0)]


def cosine_parts(parts: list[Standard], sine: float) -> list[Standard]:
    """Of the cosine of an angle with these parts in rad, where its sine is `sine`; near 1 their squares count."""
    squares = 0.5 * sum(standard * standard for _, standard, _ in parts)
    return [*((source, abs(sine) * standard, dof) for source, standard, dof in parts), (SQUARES, squares, inf)]


def non_active_interval(
    apparent: float, factor: float, of_factor: list[Standard], of_apparent: Uncertainty
) -> Uncertainty:
    """Of N = S sin: between the roots of what the power factor may be, as near 1 it is far from straight."""
    value = apparent * sqrt(max(1.0 - factor * factor, 0.0))
    standard = hypot(*[each for _, each, _ in of_factor])
    half = NORMAL_95 * standard
    low, high = (apparent * sqrt(max(1.0 - each * each, 0.0)) for each in (min(factor + half, 1.0), factor - half))
    share = value / apparent
    beside = share * of_apparent.half * NORMAL_95 / of_apparent.coverage_factor
    ends = value - hypot(value - low, beside), value + hypot(high - value, beside)
    slope = 0.5 * (high - low) / half if half else 0.0
    parts = [(source, slope * each) for source, each, _ in of_factor]
    parts += [(source, share * each) for source, each in of_apparent.parts]
    return Uncertainty(max(ends[0], 0.0), ends[1], NORMAL_95, tuple(parts))


def reactive_parts(a: Analysis, pair: Pair, product: complex) -> list[Standard]:
    """Of the fundamental reactive power, var; `product`: fundamental complex power."""
    one, other = a.spreads[pair.voltage], a.spreads[pair.current]
    volts, amps = abs(a.fundamental[pair.voltage]), abs(a.fundamental[pair.current])
    parts = [
        (NOISE, a.phasor_noise * hypot(one.rms_noise * amps, other.rms_noise * volts), _dof(a, pair)),
        (GAINS, abs(product.imag) * hypot(one.gain, other.gain), _gain_dof(a, pair)),
        _by_skew(a, pair, abs(product.real)),
    ]
    if a.lean:
        parts.append((LEAN, 2.0 * a.lean * abs(product.imag), inf))
    rows = pair.voltage, pair.current
    return correlated(a, parts, lambda: of_reactive(a, pair), *rows, noise_factor=a.phasor_noise)


def added(lists: list[list[Standard]]) -> list[Standard]:
    """Of a sum of independent terms: parts of the same name in one."""
    total: dict[str, tuple[float, float]] = {}
    for parts in lists:
        for source, standard, dof in parts:
            before, lowest = total.get(source, (0.0, inf))
            total[source] = hypot(before, standard), min(lowest, dof)
    return [(source, standard, dof) for source, (standard, dof) in total.items()]
