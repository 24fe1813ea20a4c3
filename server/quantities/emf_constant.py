"""Constants of a brushless motor from its EMF while it coasts or is turned by hand. Pure: of one window alone.

In the trade a constant of a brushless motor is of the voltage between two lines, and of its peak; RMS, or of a phase
against the star, are other numbers of the same motor. So it is said here.
"""

from math import hypot, inf, pi, sqrt

import numpy as np

from server.config import Plate
from server.motors import MotorType
from server.quantities.analysis import Analysis
from server.quantities.emf_speed import NO_EMF, UNSTEADY, least_emf, not_coasting
from server.quantities.line_emf import Form, Line, form_of, lines_of
from server.quantities.quantity import Quantity
from server.quantities.reasons import given, joined
from server.quantities.uncertainty import CLOCK, Standard, combined, scaled
from server.readings import Reading, Uncertainty, absent
from server.samples import Samples

PER_1000 = "back_emf_per_1000_rpm_v"
EMF_CONSTANTS = (
    Quantity(
        *(PER_1000, "U_1000", "back-EMF at 1000 r/min, peak between lines", "V", 3),
        "the back-EMF constant x 1000 r/min in rad/s; an estimate from one window",
        *("common practice", "the voltages of two phases or one between lines, while it coasts", ("brushless",)),
    ),
)
_KEYS = ("back_emf_constant", "torque_constant", PER_1000)
_SIX_STEPS = "an estimate: six steps of an even current are assumed, and no loss in iron"
_PARTS = "peak", "greatest"
_SCATTER = 0.05  # of the peak, of one sample against those at the same angle of other half turns
_PER_1000 = 1000.0 * pi / 30.0


def emf_constants(
    a: Analysis, window: Samples, motor: MotorType | None, plate: Plate, speed: Reading | None
) -> list[Reading]:
    """The constants of a brushless motor of which a voltage between lines and a current are measured."""
    if motor is None or motor.key != "brushless" or a.layout.main(voltage=False) is None:
        return []
    lines = lines_of(a.layout, motor)
    if not lines:
        return []
    if why_not := not_coasting(a, plate):
        return [absent(key, why_not) for key in _KEYS]
    every = [line.values(a, window) for line in lines]
    if every[0].std() < least_emf(a, lines[0], plate):
        return [absent(key, NO_EMF) for key in _KEYS]
    forms = [form for values in every if (form := form_of(values, window.rate_hz)) is not None]
    if len(forms) < len(lines):
        return [absent(key, "less than a cycle of the EMF in the window") for key in _KEYS]
    pairs, share, why_not = _pairs(float(np.mean([form.omega for form in forms])), plate, speed)
    if why_not:
        return [absent(key, why_not) for key in _KEYS]
    clipped = joined(*dict.fromkeys(a.clipped[k] for line in lines for k in line.rows))
    unsteady = UNSTEADY if any(form.scatter > _SCATTER * form.peak for form in forms) else ""
    doubt = joined(clipped, unsteady, speed.reason if speed is not None and plate.pole_pairs is None else "")
    constant, greatest = (pairs * float(np.mean([getattr(form, part) for form in forms])) for part in _PARTS)
    sure = None if doubt or share is None else _sure(a, lines, forms, pairs, share)
    return [
        given(_KEYS[0], constant, "", doubt, None, sure),
        given(_KEYS[1], greatest, doubt=joined(_SIX_STEPS, doubt)),
        given(PER_1000, constant * _PER_1000, "", doubt, None, None if sure is None else scaled(sure, _PER_1000)),
    ]


def _pairs(omega: float, plate: Plate, speed: Reading | None) -> tuple[float, float | None, str]:
    """Electrical turns to a turn of the shaft, their relative uncertainty (None: not known), and why there are none.

    By the plate, else by the speed: then the EMF's own speed stands for that of the shaft all the same.
    """
    if plate.pole_pairs is not None:
        return float(plate.pole_pairs), 0.0, ""
    if speed is None or not isinstance(speed.value, float) or abs(speed.value) < 1.0:
        return 0.0, None, "needs pole pairs or a speed"
    sure = speed.uncertainty
    share = None if sure is None else sure.half / sure.coverage_factor / abs(speed.value)
    return omega / (abs(speed.value) * pi / 30.0), share, ""


def _sure(a: Analysis, lines: list[Line], forms: list[Form], pairs: float, share: float) -> Uncertainty | None:
    """Channels of a board are of one make: what their gains are off by is not taken to cancel between lines."""
    rows = sorted({k for line in lines for k in line.rows})
    spreads, clock = [a.spreads[k] for k in rows], a.layout.rows[rows[0]].channel.clock
    if clock is None or any(spread.why_not for spread in spreads):
        return None
    constant = pairs * float(np.mean([form.peak for form in forms]))
    offset = hypot(*[spread.offset for spread in spreads[:2]]) / min(form.omega for form in forms)
    parts: list[Standard] = [
        ("gains of the channels", max(spread.gain for spread in spreads) * constant, inf),
        ("offsets of the channels", pairs * offset, inf),
        ("half turns that differ", pairs * max(form.standard for form in forms), inf),
        (CLOCK, clock.standard * constant, clock.dof),
    ]
    if share:
        parts.append(("speed", share * constant, inf))
    if len(forms) > 1:
        apart = float(np.std([form.peak for form in forms], ddof=1)) / sqrt(len(forms))
        parts.append(("lines that differ", pairs * apart, len(forms) - 1.0))
    return combined(constant, parts, 0.0)
