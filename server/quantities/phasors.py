"""The fundamental of each voltage and current as an arrow: RMS and angle."""

from cmath import phase
from math import degrees, hypot, inf, pi

from server.quantities.analysis import Analysis
from server.quantities.beside import beside_words, delay_beside
from server.quantities.layout import Row
from server.quantities.mixed import is_mixed, of_angle, parts_of, plus, times
from server.quantities.power_words import SKEW
from server.quantities.quantity import ALTERNATING, THREE_PHASE, Quantity
from server.quantities.reasons import GAP, below, given, joined, too_small
from server.quantities.spread import LEAN
from server.quantities.uncertainty import Standard, combined, of_magnitude
from server.readings import Reading, Uncertainty, absent

_FROM = "IEC 60050-103, phasor (from memory)"
_ANGLE = "angle by which the fundamental leads that of the main voltage; without a voltage, of the first current"
_MOTORS = tuple(dict.fromkeys((*ALTERNATING, *THREE_PHASE, "stepper")))
PHASORS = (
    Quantity(
        *("voltage_fundamental_v", "U_1", "fundamental of the voltage, RMS", "V", 1),
        *("RMS of the fundamental, at its own frequency", _FROM, "a voltage channel", _MOTORS),
    ),
    Quantity(
        *("current_fundamental_a", "I_1", "fundamental of the current, RMS", "A", 3),
        *("RMS of the fundamental, at its own frequency", _FROM, "a current channel", _MOTORS),
    ),
    Quantity(
        *("voltage_angle_deg", "", "angle of the voltage", "°", 1),
        *(_ANGLE, _FROM, "a voltage channel", _MOTORS),
    ),
    Quantity(
        *("current_angle_deg", "", "angle of the current", "°", 1),
        *(_ANGLE, _FROM, "a current channel", _MOTORS),
    ),
)


def phasor_readings(a: Analysis) -> list[Reading]:
    """Readings of `PHASORS`, row after row; none of a row that is direct by the motor's type.

    The row that all angles are against, has the angle 0 by definition.
    """
    waves = [k for k, row in enumerate(a.layout.rows) if row.wave and not row.steady]
    readings: list[Reading] = []
    for k in waves:
        readings += _of_row(a, k, waves[0])
    return readings


def _of_row(a: Analysis, k: int, against: int) -> list[Reading]:
    row = a.layout.rows[k]
    keys = _keys(row)
    why_not = GAP if a.partial else a.silence or a.clipped[k]
    if why_not:
        return [absent(key, why_not, row.place) for key in keys]
    phasor, spread = a.fundamental[k], a.spreads[k]
    size = abs(phasor)
    known = not (a.unsteady or spread.why_not)
    parts: list[Standard] = [
        (spread.words.noise, a.phasor_noise * spread.rms_noise, spread.dof),
        (spread.words.gain, spread.gain * size, spread.gain_dof),
    ]
    if a.lean:
        parts.append((LEAN, a.lean * size, inf))
    sure = of_magnitude(size, parts) if known else None
    rms = given(keys[0], size, row.place, a.unsteady, below(size, row.limit), sure)
    return [rms, _angle(a, k, against, keys[1])]


def _keys(row: Row) -> tuple[str, str]:
    if row.is_voltage:
        return "voltage_fundamental_v", "voltage_angle_deg"
    return "current_fundamental_a", "current_angle_deg"


def _angle(a: Analysis, k: int, against: int, key: str) -> Reading:
    row = a.layout.rows[k]
    for n in (against, k):
        if abs(a.fundamental[n]) < a.layout.rows[n].limit:
            return absent(key, too_small(a.layout.rows[n]), row.place)
    doubt = joined(a.unsteady, "" if k == against else a.clipped[against])
    turned = degrees(phase(a.fundamental[k] * a.fundamental[against].conjugate()))
    one, two = a.spreads[k], a.spreads[against]
    if k == against or doubt or one.why_not or two.why_not:
        return given(key, turned, row.place, doubt)
    if is_mixed(a, k, against):
        return given(key, turned, row.place, "", None, _of_mixed(a, k, against, turned))
    late = delay_beside(row.channel, a.layout.rows[against].channel)
    if late is None:
        return given(key, turned, row.place)
    noise = a.phasor_noise * hypot(one.rms_noise / abs(a.fundamental[k]), two.rms_noise / abs(a.fundamental[against]))
    delay = 2.0 * pi * (a.frequency_hz or 0.0) * late.standard
    parts = [("noise", degrees(noise), min(one.dof, two.dof)), (beside_words(SKEW, late), degrees(delay), late.dof)]
    return given(key, turned, row.place, "", None, combined(turned, parts))


def _of_mixed(a: Analysis, k: int, against: int, turned: float) -> Uncertainty | None:
    """Of rows that are made of others, which both may consist of the same channel."""
    if a.spreads[k].why_no_angle or a.spreads[against].why_no_angle:
        return None
    moves = plus(of_angle(a, k), times(-1.0, of_angle(a, against)))
    parts = parts_of(a, moves, a.phasor_noise)
    return combined(turned, [(source, degrees(standard), dof) for source, standard, dof in parts])
