"""Constants of a motor and what its shaft gives, estimated from electrical measurements. Pure: of one window alone.

An estimate is always doubtful, with what is not in it as the reason: nobody has measured a torque here.
"""

from math import inf, pi, sqrt

from server.config import Plate
from server.motors import MotorType, Supply, pole_pairs_of
from server.quantities.analysis import Analysis
from server.quantities.quantity import BRUSHED, THREE_PHASE, Quantity
from server.quantities.reasons import AC_COUPLED, given, hides_direct, joined
from server.quantities.uncertainty import Standard, combined, effective_dof, parts_of
from server.readings import Reading, Uncertainty, absent

_NEEDS = "voltage, current, speed and the winding resistance of the plate"
_COASTS = "brushless: the voltages of two phases or one between lines"
_MACHINES = (*BRUSHED, "brushless")
MACHINE = (
    Quantity(
        *("back_emf_constant", "k_e", "back-EMF constant", "V·s/rad", 4),
        "(U - R I - brush drop) / angular speed while it runs; of a motor with a field winding that at this current; "
        "brushless: peak of the voltage between two lines / angular speed while it coasts, an estimate from one window",
        *("S. P. Burman, Special Electrical Machines, p. 216", f"{_NEEDS}; {_COASTS}", _MACHINES),
    ),
    Quantity(
        *("torque_constant", "k_t", "torque constant", "N·m/A", 4),
        "the back-EMF constant: in SI units the same number; brushless: of six steps, per ampere of a line, mean of "
        "the greatest voltage between two lines / angular speed (of a trapezoid the constant, of a sine 3 / π of it)",
        *("energy balance of an ideal machine", f"{_NEEDS}; {_COASTS}", _MACHINES),
    ),
    Quantity(
        *("shaft_torque_estimate_n_m", "T", "shaft torque, estimate", "N·m", 3),
        "power that is not lost in winding and brushes / angular speed; of a three-phase induction motor / synchronous "
        "angular speed; brushless: of the DC link; friction and iron are in it",
        *("Chapman, Electric Machinery Fundamentals, power flow (from memory)", _NEEDS, (*BRUSHED, *THREE_PHASE)),
    ),
    Quantity(
        *("shaft_power_estimate_w", "P_2", "shaft power, estimate", "W", 1),
        *("estimated torque x angular speed", "as the torque", _NEEDS, (*BRUSHED, *THREE_PHASE)),
    ),
)
_CONSTANTS = ("back_emf_constant", "torque_constant")
_ESTIMATES = ("shaft_torque_estimate_n_m", "shaft_power_estimate_w")
_NOT_IN_IT = "an estimate: friction and iron losses are not taken off"
_BRIDGE = "nor what the drive loses"
_NOT_ONE_PLACE = "voltage and current are not of the same terminals"
_WARM = 0.2  # of the plate's resistance, by which a winding at work is above it: 50 K of copper (common practice)
_BRUSHES = 0.2  # of their drop
_SLOW = 0.1  # of the plate speed: below, the EMF is a small part of the voltage


def machine_readings(a: Analysis, motor: MotorType | None, plate: Plate, speed: Reading | None) -> list[Reading]:
    """Readings of `MACHINE`, where the plate has a winding resistance."""
    volts, amps = a.layout.main(voltage=True), a.layout.main(voltage=False)
    if motor is None or plate.winding_resistance_ohm is None or volts is None or amps is None:
        return []
    if motor.has_commutator:
        constants = _CONSTANTS if motor.supply is Supply.DIRECT else ()
        if why_not := _not_running(a, amps, plate, speed):
            return [absent(key, why_not) for key in (*constants, *_ESTIMATES)]
        told = _constants(a, volts, amps, plate, speed) if constants else []
        return [*told, *_brushed(a, volts, amps, plate, speed)]
    if motor.has_slip and len(motor.phases) == 3 and a.layout.three_pairs and a.layout.three is not None:
        why_not = _not_running(a, amps, plate, speed)
        return [absent(key, why_not) for key in _ESTIMATES] if why_not else _induction(a, plate, speed)
    if motor.key == "brushless" and a.layout.three is not None:
        why_not = _not_running(a, amps, plate, speed)
        return [absent(key, why_not) for key in _ESTIMATES] if why_not else _brushless(a, volts, amps, plate, speed)
    return []


def _not_running(a: Analysis, amps: int, plate: Plate, speed: Reading | None) -> str:
    if hides_direct(a.layout.rows[amps]):
        return AC_COUPLED
    if a.rms[amps] < a.layout.rows[amps].limit:
        return "no current flows"
    if speed is None or not isinstance(speed.value, float):
        return "no speed is known" if speed is None else speed.reason
    if abs(speed.value) < max(_SLOW * (plate.speed_rpm or 0.0), 1.0):
        return "it turns too slowly"
    return ""


def _omega(speed: Reading | None) -> float:
    assert speed is not None
    assert isinstance(speed.value, float)
    return abs(speed.value) * pi / 30.0


def _drops(plate: Plate) -> tuple[float, float]:
    return plate.winding_resistance_ohm or 0.0, plate.brush_drop_v or 0.0


def _constants(a: Analysis, volts: int, amps: int, plate: Plate, speed: Reading | None) -> list[Reading]:
    """The sign of the current against the voltage: a motor that is driven by its load feeds back."""
    ohm, drop = _drops(plate)
    omega = _omega(speed)
    current = a.mean[amps] if a.mean[volts] >= 0 else -a.mean[amps]
    emf = abs(a.mean[volts]) - ohm * current - (drop if current > 0 else -drop)
    if emf <= 0.0:
        return [absent(key, "the drop in winding and brushes is above the voltage") for key in _CONSTANTS]
    assert speed is not None
    doubt = joined(speed.reason, a.clipped[volts], a.clipped[amps], a.partial)
    sure = None if doubt else _sure(a, volts, amps, plate, speed, emf / omega)
    return [given(key, emf / omega, "", doubt, None, sure) for key in _CONSTANTS]


def _sure(a: Analysis, volts: int, amps: int, plate: Plate, speed: Reading, constant: float) -> Uncertainty | None:
    if a.spreads[volts].why_not or a.spreads[amps].why_not or speed.uncertainty is None:
        return None
    ohm, drop = _drops(plate)
    omega, current = _omega(speed), abs(a.mean[amps])
    parts: list[Standard] = [(what, part / omega, dof) for what, part, dof in a.mean_parts(volts)]
    parts += [(what, part * ohm / omega, dof) for what, part, dof in a.mean_parts(amps)]
    parts.append(("winding warmer than on the plate", _WARM * ohm * current / omega / sqrt(3.0), inf))
    parts.append(("drop of the brushes", _BRUSHES * drop / omega / sqrt(3.0), inf))
    share = speed.uncertainty.half / speed.uncertainty.coverage_factor / (omega * 30.0 / pi)
    parts.append(("speed", constant * share, effective_dof(parts_of(speed.uncertainty))))
    return combined(constant, parts, 0.0)


def _brushed(a: Analysis, volts: int, amps: int, plate: Plate, speed: Reading | None) -> list[Reading]:
    ohm, drop = _drops(plate)
    pair = _pair_of(a, volts, amps)
    if pair is None:
        return [absent(key, _NOT_ONE_PLACE) for key in _ESTIMATES]
    mean_a = max(abs(a.mean[amps]), 2.0 * sqrt(2.0) / pi * a.rms[amps] if a.frequency_hz is not None else 0.0)
    power = a.power[pair] - ohm * a.rms[amps] ** 2 - drop * mean_a
    return _estimates(power / _omega(speed), power, joined(_of(speed), a.clipped[volts], a.clipped[amps], a.partial))


def _induction(a: Analysis, plate: Plate, speed: Reading | None) -> list[Reading]:
    """Three phases lose 1.5 R I^2 with R between two terminals, in star and in delta."""
    pairs, three = pole_pairs_of(plate), a.layout.three
    if a.frequency_hz is None or pairs is None or three is None:
        return [absent(key, a.silence or "pole pairs are not known") for key in _ESTIMATES]
    ohm, _ = _drops(plate)
    lost = 0.5 * ohm * sum(a.rms[k] ** 2 for k in three)
    torque = (sum(a.power[n] for n in a.layout.three_pairs) - lost) / (2.0 * pi * a.frequency_hz / pairs)
    return _estimates(torque, torque * _omega(speed), joined(_of(speed), *(a.clipped[k] for k in three), a.partial))


def _brushless(a: Analysis, volts: int, amps: int, plate: Plate, speed: Reading | None) -> list[Reading]:
    """Of the power of the link its three phases lose 1.5 R I^2; what the bridge loses is not known."""
    pair, three = _pair_of(a, volts, amps), a.layout.three
    if pair is None or three is None:
        return [absent(key, _NOT_ONE_PLACE) for key in _ESTIMATES]
    ohm, _ = _drops(plate)
    power = a.power[pair] - 0.5 * ohm * sum(a.rms[k] ** 2 for k in three)
    doubt = joined(_BRIDGE, _of(speed), a.clipped[volts], a.clipped[amps], *(a.clipped[k] for k in three), a.partial)
    return _estimates(power / _omega(speed), power, doubt)


def _pair_of(a: Analysis, volts: int, amps: int) -> int | None:
    return next((n for n, each in enumerate(a.layout.pairs) if (each.voltage, each.current) == (volts, amps)), None)


def _of(speed: Reading | None) -> str:
    return speed.reason if speed is not None else ""


def _estimates(torque: float, power: float, doubt: str) -> list[Reading]:
    return [
        given(key, value, doubt=joined(_NOT_IN_IT, doubt))
        for key, value in zip(_ESTIMATES, (torque, power), strict=True)
    ]
