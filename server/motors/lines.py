"""Where lines are to be expected in the spectrum of a motor's current: its type, plate, supply and speed. Pure.

Only places are told, not whether a line is there or what it means: a healthy motor has most of them, small.
"""

from dataclasses import dataclass
from math import lcm

from server.config import Plate
from server.motors.motor import MotorType, Supply
from server.motors.plate import pole_pairs_of

_FAULTS = "common practice, formula from memory"
_SLOTS = "Nandi, Toliyat and Li, IEEE Trans. Energy Conversion 20 (2005), p. 719 (from memory)"
_RIPPLE = "common practice, from memory"


@dataclass(frozen=True, slots=True)
class PredictedLine:
    """A frequency, what stands at it, how it is written on a drawing, and where the rule is from."""

    hz: float
    name: str
    sign: str
    source: str


def predicted_lines(
    motor: MotorType | None, plate: Plate, frequency_hz: float | None, speed_rpm: float | None, to_hz: float
) -> tuple[PredictedLine, ...]:
    """Lines above 0 and up to `to_hz`, in order of frequency.

    `frequency_hz`: fundamental of supply or current, None for direct current; `speed_rpm`: of the shaft, None where it
    is not known. What needs a number that is not there is left out.
    """
    lines: list[PredictedLine] = []
    turns_hz = abs(speed_rpm) / 60.0 if speed_rpm else None
    alternating = motor is None or motor.supply is Supply.ALTERNATING
    if alternating and frequency_hz:
        lines += _supply(frequency_hz)
    if motor is not None and turns_hz:
        if motor.has_slip and frequency_hz:
            lines += _induction(plate, frequency_hz, turns_hz)
        elif motor.has_commutator:
            lines += _brushed(plate, frequency_hz if alternating else None, turns_hz)
        elif motor.supply is Supply.DIRECT and len(motor.phases) == 3 and plate.pole_pairs:
            lines += _six_steps(plate.pole_pairs * turns_hz)
    return tuple(sorted((each for each in lines if 0.0 < each.hz <= to_hz), key=lambda each: each.hz))


def _supply(f: float) -> list[PredictedLine]:
    signs = {1: "f", 2: "2 f", 3: "3 f", 5: "5 f", 7: "7 f"}
    names = {1: "supply", 2: "twice the supply frequency"}
    return [PredictedLine(k * f, names.get(k, f"harmonic {k}"), sign, "IEC 61000-4-7") for k, sign in signs.items()]


def _induction(plate: Plate, f: float, turns: float) -> list[PredictedLine]:
    """With p pole pairs and R slots: slip is 1 - p n / f; slot lines at R n with the supply's f on both sides."""
    lines = []
    pairs = pole_pairs_of(plate)
    if pairs is not None:
        slip = 1.0 - pairs * turns / f
        lines += [
            PredictedLine(abs(1.0 - 2.0 * slip) * f, "slip sideband below", "(1 − 2s) f", _FAULTS),
            PredictedLine((1.0 + 2.0 * slip) * f, "slip sideband above", "(1 + 2s) f", _FAULTS),
        ]
    lines += [
        PredictedLine(abs(f - turns), "eccentricity, supply less a turn", "f − n", _FAULTS),
        PredictedLine(f + turns, "eccentricity, supply and a turn", "f + n", _FAULTS),
    ]
    if plate.rotor_slots is not None:
        slots = plate.rotor_slots * turns
        lines += [
            PredictedLine(abs(slots - f), "rotor slots, lower", "R n − f", _SLOTS),
            PredictedLine(slots + f, "rotor slots, upper", "R n + f", _SLOTS),
        ]
    return lines


def _brushed(plate: Plate, f: float | None, turns: float) -> list[PredictedLine]:
    """Ripple of the commutator: c = lcm(bars, poles) to a turn. Fed by alternating current, it stands about c n."""
    lines = [PredictedLine(turns, "one turn of the shaft", "n", _RIPPLE)]
    if plate.commutator_bars is None:
        return lines
    bars = plate.commutator_bars * turns
    ripple = bars if plate.pole_pairs is None else lcm(plate.commutator_bars, 2 * plate.pole_pairs) * turns
    if f is not None:
        lines += [
            PredictedLine(abs(ripple - f), "commutator ripple, lower", "c n − f", _RIPPLE),
            PredictedLine(ripple + f, "commutator ripple, upper", "c n + f", _RIPPLE),
        ]
        return lines
    lines.append(PredictedLine(ripple, "commutator ripple", "c n", _RIPPLE))
    lines.append(PredictedLine(2.0 * ripple, "commutator ripple, twice", "2 c n", _RIPPLE))
    if ripple != bars:
        lines.append(PredictedLine(bars, "commutator bars", "bars n", _RIPPLE))
    return lines


def _six_steps(electrical: float) -> list[PredictedLine]:
    return [
        PredictedLine(electrical, "electrical turn", "f_e", _RIPPLE),
        PredictedLine(6.0 * electrical, "six steps of an electrical turn", "6 f_e", _RIPPLE),
        PredictedLine(12.0 * electrical, "twice the six steps", "12 f_e", _RIPPLE),
    ]
