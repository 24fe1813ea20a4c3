"""Speed of a motor that coasts, from the EMF that its turning rotor leaves at the terminals. Pure: of one window alone.

It is one only while no current flows and the voltage is lower than a supply's: what stands on an open line is no EMF.
"""

from math import ceil, floor, pi, sqrt

import numpy as np

from server.config import Plate
from server.motors import MotorType, pole_pairs_of
from server.quantities.analysis import ORDERS, Analysis
from server.quantities.frequency import QUIET, frequency_uncertainty
from server.quantities.line_emf import LINES_SHARE, Line, lines_of
from server.quantities.quantity import COASTING, Quantity
from server.quantities.reasons import GAP, given
from server.quantities.switching import SUPPLY
from server.quantities.uncertainty import CLOCK, combined, scaled
from server.quantities.wander import telling_of_three_lines, wander_of
from server.readings import Reading, absent
from server.samples import Samples
from server.signals import SHARPENED_CYCLES_MIN, find_tone, noise_between, phasors, sharpened, transform

_KEY = "emf_speed_rpm"
EMF_SPEEDS = (
    Quantity(
        *(_KEY, "n_e", "speed from back-EMF", "r/min", 0),
        "while it coasts without current: 60 x frequency of the EMF / pole pairs; permanent magnet DC: EMF / constant"
        " of the plate",
        *("common practice", "voltage and current at the terminals; pole pairs, or the back-EMF constant", COASTING),
    ),
)
_MISFIT_MAX = 0.05  # of the EMF on the lines beside it
_LEAST = 0.04  # of the plate voltage: less is no evidence
_DIRECT = 0.8  # of the RMS: the EMF of three bars and their ripple has more of a mean
NO_EMF = "no voltage at the terminals that could be an EMF"
UNSTEADY = "the EMF was not steady in this window"
_BESIDE, _MARGIN, _PIECES, _LEAST_LINES = 1.5, 4, 10, 200  # noise is read above the EMF, where harmonics are few lines


def emf_speeds(a: Analysis, window: Samples, motor: MotorType | None, plate: Plate) -> list[Reading]:
    """The reading of `EMF_SPEEDS`, where it makes sense for this board and motor type."""
    amps, volts = a.layout.main(voltage=False), a.layout.main(voltage=True)
    if motor is None or motor.key not in COASTING or amps is None or volts is None:
        return []
    if why_not := not_coasting(a, plate):
        return [absent(_KEY, why_not)]
    if len(motor.phases) == 3 and not motor.has_slip:
        return [_brushless(a, window, motor, plate)]
    voltage, most = a.rms[volts], SUPPLY * (plate.voltage_v or 0.0)
    if len(motor.phases) == 3:
        most /= sqrt(3.0)  # it may be that of a line against the star point
    if not _LEAST * (plate.voltage_v or 0.0) < voltage < most:
        return [absent(_KEY, NO_EMF)]
    if motor.has_commutator and abs(a.mean[volts]) < _DIRECT * voltage:
        return [absent(_KEY, "the voltage alternates: it is no EMF of a commutator")]
    if motor.has_commutator:
        return [_magnets(a, volts, plate)]
    return [_alternating(a, plate)]


def not_coasting(a: Analysis, plate: Plate) -> str:
    """Why it is not known to coast, or empty."""
    if a.partial:
        return GAP
    if not plate.current_a:
        return "without a plate current it is not known whether it coasts"
    for row, rms in zip(a.layout.rows, a.rms, strict=True):
        if not row.is_voltage and rms > max(QUIET * plate.current_a, row.limit):
            return "it is driven: current flows"
    return ""


def _magnets(a: Analysis, volts: int, plate: Plate) -> Reading:
    """The plate's constant is taken as exact: one that is wrong moves all alike."""
    if plate.back_emf_constant is None:
        return absent(_KEY, "back_emf_constant is not on the plate")
    per_volt = 30.0 / pi / plate.back_emf_constant
    rpm = abs(a.mean[volts]) * per_volt
    known = not a.spreads[volts].why_not
    parts = [(what, per_volt * standard, dof) for what, standard, dof in a.mean_parts(volts)] if known else []
    return given(_KEY, rpm, "", "", None, combined(rpm, parts) if known else None)


def _alternating(a: Analysis, plate: Plate) -> Reading:
    pairs = pole_pairs_of(plate)
    if pairs is None:
        return absent(_KEY, "pole pairs are not known")
    if a.frequency_hz is None or not a.layout.clock_is_voltage:
        return absent(_KEY, a.silence or "no alternating voltage is measured")
    sure = frequency_uncertainty(a)
    of_speed = None if sure is None else scaled(sure, 60.0 / pairs)
    return given(_KEY, 60.0 * a.frequency_hz / pairs, "", a.unsteady, None, of_speed)


def _brushless(a: Analysis, window: Samples, motor: MotorType, plate: Plate) -> Reading:
    """From the voltage between two lines."""
    lines = lines_of(a.layout, motor)
    if not lines or plate.pole_pairs is None:
        return absent(_KEY, "needs the voltages of two phases and pole pairs")
    between = lines[0].values(a, window)
    spectrum = transform(between)
    tone = find_tone(spectrum, window.count, window.count * LINES_SHARE)
    if tone is None or tone.rms < least_emf(a, lines[0], plate):
        return absent(_KEY, NO_EMF)
    cycles, telling = tone.cycles, telling_of_three_lines(tone.cycles) * tone.rms
    if cycles >= SHARPENED_CYCLES_MIN and tone.misfit <= _MISFIT_MAX:
        orders = phasors(spectrum[np.newaxis], window.count, cycles, min(ORDERS, floor((spectrum.size - 3) / cycles)))
        cycles, telling = sharpened(between, cycles, orders[0])
    rpm = 60.0 * cycles * window.rate_hz / window.count / plate.pole_pairs
    unsteady, clock = UNSTEADY if tone.misfit > _MISFIT_MAX else "", a.layout.rows[lines[0].plus].channel.clock
    first, end = ceil(_BESIDE * cycles) + _MARGIN, window.count // 2 - 1
    if clock is None or end - first < _LEAST_LINES:
        return given(_KEY, rpm, doubt=unsteady)
    noise, dof = noise_between(spectrum, window.count, first, end, _PIECES)
    noise *= sqrt(0.5 * window.count / (end - first))  # of a sample, as if it were white
    wander = wander_of(cycles, telling, noise, window.count)
    sure = combined(rpm, [("noise", rpm * wander, dof), (CLOCK, rpm * clock.standard, clock.dof)])
    return given(_KEY, rpm, "", unsteady, None, sure)


def least_emf(a: Analysis, line: Line, plate: Plate) -> float:
    """RMS below which what stands between these lines is no evidence."""
    return max(sum(a.layout.rows[k].limit for k in line.rows), 0.25 * _LEAST * (plate.voltage_v or 0.0))
