"""Powers, power factors and phase angle of each pair of voltage and current."""

from cmath import phase
from math import cos, degrees, prod, sin, sqrt

from server.quantities.analysis import Analysis
from server.quantities.fundamental import SLOW
from server.quantities.layout import Pair
from server.quantities.power_spread import (
    angle_parts,
    apparent_parts,
    cosine_parts,
    factor_parts,
    non_active_interval,
    power_noise,
    power_parts,
    reactive_parts,
    unknown,
)
from server.quantities.quantity import ALTERNATING, Quantity
from server.quantities.reasons import AC_COUPLED, given, hides_direct, joined, too_small
from server.quantities.uncertainty import Standard, combined
from server.readings import Reading, Uncertainty, absent

_IEEE = "IEEE 1459-2010 (from memory)"
_PAIR = "voltage and current of the same conductor, sampled together"
POWER = (
    Quantity(
        *("active_power_w", "P", "active power", "W", 1),
        *("mean of u i over whole cycles; of three phases their sum", f"{_IEEE}, 3.1.2.3", _PAIR),
    ),
    Quantity(
        *("apparent_power_va", "S", "apparent power", "VA", 1),
        *("U I", f"{_IEEE}, 3.1.2.5", _PAIR),
    ),
    Quantity(
        *("power_factor", "PF", "power factor", "", 3),
        *("P / S, below 0 only where P is", f"{_IEEE}, 3.1.2.16", _PAIR, ALTERNATING),
    ),
    Quantity(
        *("power_factor_sense", "", "current lags or leads", "", 0),
        *("lagging where the phase angle is not below 0", "common practice", _PAIR, ALTERNATING),
    ),
    Quantity(
        *("phase_angle_deg", "φ_1", "phase angle", "°", 1),
        *("angle of the voltage minus that of the current, fundamentals", f"{_IEEE}, 3.1.1", _PAIR, ALTERNATING),
    ),
    Quantity(
        *("displacement_power_factor", "cos φ_1", "displacement power factor", "", 3),
        *("cosine of the phase angle", f"{_IEEE}, 3.1.2.15", _PAIR, ALTERNATING),
    ),
    Quantity(
        *("fundamental_reactive_power_var", "Q_1", "reactive power", "var", 1),
        *("U1 I1 sin φ1, above 0 where the current lags", f"{_IEEE}, 3.1.2.9", _PAIR, ALTERNATING),
    ),
    Quantity(
        *("non_active_power_var", "N", "non-active power", "var", 1),
        *("root of S² - P²", f"{_IEEE}, 3.1.2.14", _PAIR, ALTERNATING),
    ),
)
_ANGLES = ("power_factor_sense", "phase_angle_deg", "displacement_power_factor")


def power_readings(a: Analysis) -> list[Reading]:
    """Readings of `POWER`, pair after pair; of a direct supply the active power alone.

    Of a three-phase motor each pair has its place behind the key; what the three make together is in three_phase.py.
    """
    readings: list[Reading] = []
    for n, pair in enumerate(a.layout.pairs):
        doubt, least, power = doubt_of(a, pair), least_of(a, pair), a.power[n]
        known = not (doubt or unknown(a, pair))
        sure = combined(power, power_parts(a, pair, power), scatter=power_noise(a, pair)) if known else None
        readings.append(given("active_power_w", power, pair.place, doubt, least, sure))
        if not a.layout.rows[pair.voltage].steady:
            readings += _apparent(a, pair, power, doubt, least)
            readings += _fundamental(a, pair, doubt, least)
    return readings


def doubt_of(a: Analysis, pair: Pair) -> str:
    """Why to doubt what is made of the pair's samples, or empty."""
    its = [a.layout.rows[k] for k in (pair.voltage, pair.current)]
    slow = SLOW if a.silence == SLOW and not its[0].steady and least_of(a, pair) is None else ""
    hidden = AC_COUPLED if a.frequency_hz is None and any(hides_direct(row) for row in its) else ""
    fast = a.folded(pair.voltage) or a.folded(pair.current)
    return joined(a.clipped[pair.voltage], a.clipped[pair.current], a.partial, slow, hidden, fast)


def small_of(a: Analysis, pair: Pair, voltage: float, current: float) -> str:
    """Why ratios of this pair mean nothing, or empty."""
    for k, value in ((pair.voltage, voltage), (pair.current, current)):
        if value < a.layout.rows[k].limit:
            return too_small(a.layout.rows[k])
    return ""


def least_of(a: Analysis, pair: Pair) -> float | None:
    """What the powers are below where voltage or current is too small to tell: none of them is above U I."""
    rows = [(a.rms[k], a.layout.rows[k].limit) for k in (pair.voltage, pair.current)]
    return prod(max(row) for row in rows) if any(rms < limit for rms, limit in rows) else None


def _apparent(a: Analysis, pair: Pair, power: float, doubt: str, least: float | None) -> list[Reading]:
    place, apparent = pair.place, a.rms[pair.voltage] * a.rms[pair.current]
    doubt = joined(doubt, a.cut_off(pair.voltage), a.cut_off(pair.current))
    known = not (doubt or unknown(a, pair))
    sure = combined(apparent, apparent_parts(a, pair), 0.0) if known and apparent else None
    shown = given("apparent_power_va", apparent, place, doubt, least, sure)
    if why_not := small_of(a, pair, a.rms[pair.voltage], a.rms[pair.current]):
        rest = ("power_factor", "non_active_power_var")
        return [shown, *(absent(key, why_not, place) for key in rest)]
    factor = max(-1.0, min(1.0, power / apparent))  # rounding alone could pass 1
    parts = factor_parts(a, pair, factor) if known else []
    return [
        shown,
        given("power_factor", factor, place, doubt, None, combined(factor, parts, -1.0, 1.0) if known else None),
        non_active(power, apparent, parts, place, doubt, sure),
    ]


def non_active(
    power: float, apparent: float, factor_parts: list[Standard], place: str, doubt: str, of_s: Uncertainty | None
) -> Reading:
    """The root of S² - P²."""
    value = sqrt(max(apparent * apparent - power * power, 0.0))
    if of_s is None:
        return given("non_active_power_var", value, place, doubt)
    sure = non_active_interval(apparent, min(abs(power / apparent), 1.0), factor_parts, of_s)
    return given("non_active_power_var", value, place, doubt, None, sure)


def _fundamental(a: Analysis, pair: Pair, doubt: str, least: float | None) -> list[Reading]:
    place = pair.place
    if not a.fundamental:
        return [absent(key, a.silence, place) for key in (*_ANGLES, "fundamental_reactive_power_var")]
    voltage, current = a.fundamental[pair.voltage], a.fundamental[pair.current]
    product, doubt = voltage * current.conjugate(), joined(doubt, a.unsteady)
    known = not (doubt or unknown(a, pair))
    sure = combined(product.imag, reactive_parts(a, pair, product)) if known and product else None
    reactive = given("fundamental_reactive_power_var", product.imag, place, doubt, least, sure)
    if why_not := small_of(a, pair, abs(voltage), abs(current)):
        return [*(absent(key, why_not, place) for key in _ANGLES), reactive]
    angle = phase(product)
    parts = angle_parts(a, pair) if known else []
    turned = [(source, degrees(each), dof) for source, each, dof in parts]
    shifted = combined(degrees(angle), turned) if known else None
    cosine = combined(cos(angle), cosine_parts(parts, sin(angle)), -1.0, 1.0) if known else None
    return [
        given("power_factor_sense", "lagging" if angle >= 0 else "leading", place, doubt),
        given("phase_angle_deg", degrees(angle), place, doubt, None, shifted),
        given("displacement_power_factor", cos(angle), place, doubt, None, cosine),
        reactive,
    ]
