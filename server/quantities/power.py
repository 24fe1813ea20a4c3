"""Powers, power factors and phase angle of each pair of voltage and current."""

from cmath import phase
from math import cos, degrees

from server.quantities.analysis import Analysis
from server.quantities.layout import Pair
from server.quantities.levels import too_small
from server.quantities.quantity import Quantity
from server.readings import Confidence, Reading, absent

_IEEE = "IEEE 1459 (definition from memory)"
POWER = (
    Quantity("active_power_w", "P", "active power", "W", 1, f"mean of u i; {_IEEE}"),
    Quantity("apparent_power_va", "S", "apparent power", "VA", 1, f"U I; {_IEEE}"),
    Quantity("power_factor", "PF", "power factor", "", 3, f"P / S, negative only with P < 0; {_IEEE}"),
    Quantity("power_factor_sense", "", "current lags or leads", "", 0, "lagging where the phase angle is positive"),
    Quantity("phase_angle_deg", "φ_1", "phase angle", "°", 1, f"voltage minus current, fundamentals; {_IEEE}"),
    Quantity("displacement_power_factor", "cos φ_1", "displacement power factor", "", 3, _IEEE),
    Quantity("fundamental_reactive_power_var", "Q_1", "reactive power", "var", 1, f"lagging: above 0; {_IEEE}"),
)
_ANGLES = ("power_factor_sense", "phase_angle_deg", "displacement_power_factor")


def power_readings(a: Analysis) -> list[Reading]:
    """Readings of `POWER`, pair after pair; of a direct supply the active power alone."""
    readings: list[Reading] = []
    for n, pair in enumerate(a.layout.pairs):
        power = a.power[n]
        clips = [words for words in (a.clipped[pair.voltage], a.clipped[pair.current]) if words]
        doubt = "; ".join([*clips, a.partial] if a.partial else clips)
        readings.append(_given("active_power_w", power, pair.place, doubt))
        if not a.layout.rows[pair.voltage].steady:
            readings += _apparent(a, pair, power, doubt)
            readings += _fundamental(a, pair, doubt)
    return readings


def _given(key: str, value: float | str, place: str, doubt: str) -> Reading:
    if doubt:
        return Reading(key, value, Confidence.DOUBTFUL, doubt, place)
    return Reading(key, value, place=place)


def _small(a: Analysis, pair: Pair, voltage: float, current: float) -> str:
    rows = a.layout.rows
    if voltage < rows[pair.voltage].limit:
        return too_small(a, pair.voltage)
    return too_small(a, pair.current) if current < rows[pair.current].limit else ""


def _apparent(a: Analysis, pair: Pair, power: float, doubt: str) -> list[Reading]:
    voltage, current = a.rms[pair.voltage], a.rms[pair.current]
    apparent = _given("apparent_power_va", voltage * current, pair.place, doubt)
    if why_not := _small(a, pair, voltage, current):
        return [apparent, absent("power_factor", why_not, pair.place)]
    factor = max(-1.0, min(1.0, power / (voltage * current)))
    return [apparent, _given("power_factor", factor, pair.place, doubt)]


def _fundamental(a: Analysis, pair: Pair, doubt: str) -> list[Reading]:
    place = pair.place
    if a.orders is None:
        return [absent(key, a.silence, place) for key in (*_ANGLES, "fundamental_reactive_power_var")]
    voltage, current = complex(a.orders[pair.voltage, 0]), complex(a.orders[pair.current, 0])
    product = voltage * current.conjugate()
    if a.unsteady:
        doubt = f"{doubt}; {a.unsteady}" if doubt else a.unsteady
    reactive = _given("fundamental_reactive_power_var", product.imag, place, doubt)
    if why_not := _small(a, pair, abs(voltage), abs(current)):
        return [*(absent(key, why_not, place) for key in _ANGLES), reactive]
    angle = phase(product)
    return [
        _given("power_factor_sense", "lagging" if angle >= 0 else "leading", place, doubt),
        _given("phase_angle_deg", degrees(angle), place, doubt),
        _given("displacement_power_factor", cos(angle), place, doubt),
        reactive,
    ]
