"""Powers, power factors and phase angle of each pair of voltage and current."""

from cmath import phase
from math import cos, degrees, prod

from server.quantities.analysis import Analysis
from server.quantities.layout import Pair
from server.quantities.quantity import ALTERNATING, Quantity
from server.quantities.reasons import given, joined, too_small
from server.readings import Reading, absent

_IEEE = "IEEE 1459-2010 (from memory)"
_PAIR = "voltage and current of the same conductor, sampled together"
POWER = (
    Quantity(
        *("active_power_w", "P", "active power", "W", 1),
        *("mean of u i over whole cycles; of three phases their sum", f"{_IEEE}, 3.1.2.3", _PAIR),
    ),
    Quantity(
        *("apparent_power_va", "S", "apparent power", "VA", 1),
        *("U I; of three phases their sum (arithmetic apparent power)", f"{_IEEE}, 3.1.2.5 and 3.2.2.5", _PAIR),
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
)
_ANGLES = ("power_factor_sense", "phase_angle_deg", "displacement_power_factor")


def power_readings(a: Analysis) -> list[Reading]:
    """Readings of `POWER`, pair after pair; of a direct supply the active power alone.

    Of a three-phase motor each pair has its place behind the key, and P, S and PF of the three together have none.
    """
    readings: list[Reading] = []
    for n, pair in enumerate(a.layout.pairs):
        doubt = joined(a.clipped[pair.voltage], a.clipped[pair.current], a.partial)
        least = _least(a, pair)
        readings.append(given("active_power_w", a.power[n], pair.place, doubt, least))
        if not a.layout.rows[pair.voltage].steady:
            apparent = a.rms[pair.voltage] * a.rms[pair.current]
            small = _small(a, pair, a.rms[pair.voltage], a.rms[pair.current])
            readings += _apparent(a.power[n], apparent, small, pair.place, doubt, least)
            readings += _fundamental(a, pair, doubt, least)
    return readings + _together(a)


def _small(a: Analysis, pair: Pair, voltage: float, current: float) -> str:
    """Why ratios of this pair mean nothing, or empty."""
    for k, value in ((pair.voltage, voltage), (pair.current, current)):
        if value < a.layout.rows[k].limit:
            return too_small(a.layout.rows[k])
    return ""


def _least(a: Analysis, pair: Pair) -> float | None:
    """What the powers are below where voltage or current is too small to tell: none of them is above U I."""
    rows = [(a.rms[k], a.layout.rows[k].limit) for k in (pair.voltage, pair.current)]
    return prod(max(row) for row in rows) if any(rms < limit for rms, limit in rows) else None


def _apparent(
    power: float, apparent: float, why_not: str, place: str, doubt: str, least: float | None
) -> tuple[Reading, Reading]:
    shown = given("apparent_power_va", apparent, place, doubt, least)
    if why_not:
        return shown, absent("power_factor", why_not, place)
    factor = max(-1.0, min(1.0, power / apparent))  # rounding alone could pass 1
    return shown, given("power_factor", factor, place, doubt)


def _fundamental(a: Analysis, pair: Pair, doubt: str, least: float | None) -> list[Reading]:
    place = pair.place
    if not a.fundamental:
        return [absent(key, a.silence, place) for key in (*_ANGLES, "fundamental_reactive_power_var")]
    voltage, current = a.fundamental[pair.voltage], a.fundamental[pair.current]
    product, doubt = voltage * current.conjugate(), joined(doubt, a.unsteady)
    reactive = given("fundamental_reactive_power_var", product.imag, place, doubt, least)
    if why_not := _small(a, pair, abs(voltage), abs(current)):
        return [*(absent(key, why_not, place) for key in _ANGLES), reactive]
    angle = phase(product)
    return [
        given("power_factor_sense", "lagging" if angle >= 0 else "leading", place, doubt),
        given("phase_angle_deg", degrees(angle), place, doubt),
        given("displacement_power_factor", cos(angle), place, doubt),
        reactive,
    ]


def _together(a: Analysis) -> list[Reading]:
    """Three phases: the powers add up, and S is the arithmetic one."""
    if not a.layout.three_pairs:
        return []
    pairs = [a.layout.pairs[n] for n in a.layout.three_pairs]
    power = sum(a.power[n] for n in a.layout.three_pairs)
    apparent = sum(a.rms[pair.voltage] * a.rms[pair.current] for pair in pairs)
    doubt = joined(*dict.fromkeys(a.clipped[k] for pair in pairs for k in (pair.voltage, pair.current)), a.partial)
    smalls = [_small(a, pair, a.rms[pair.voltage], a.rms[pair.current]) for pair in pairs]
    why_not = smalls[0] if all(smalls) else ""
    leasts = [_least(a, pair) for pair in pairs]
    least = sum(filter(None, leasts)) if all(leasts) else None  # one phase that carries power is measured
    return [given("active_power_w", power, "", doubt, least), *_apparent(power, apparent, why_not, "", doubt, least)]
