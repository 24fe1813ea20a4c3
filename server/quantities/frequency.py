"""Frequency, synchronous speed and slip."""

from math import inf

from server.config import Plate
from server.motors import MotorType, pole_pairs_of
from server.quantities.analysis import Analysis
from server.quantities.quantity import SLIPPING, Quantity
from server.quantities.reasons import given, joined
from server.quantities.uncertainty import CLOCK, Standard, combined, parts_of, scaled
from server.readings import Reading, Uncertainty, absent

FREQUENCY = (
    Quantity(
        *("frequency_hz", "f", "frequency", "Hz", 2),
        *("fundamental of the voltage over the window", "IEC 61000-4-30, 5.1 (from memory; there over 10 s)"),
        "a voltage channel",
    ),
    Quantity(
        *("current_frequency_hz", "f_I", "frequency of the current", "Hz", 2),
        *("fundamental of the current over the window, where no alternating voltage is measured", "common practice"),
        "a current channel",
    ),
    Quantity(
        *("synchronous_speed_rpm", "n_s", "synchronous speed", "r/min", 0),
        *("60 f / pole pairs", "Hubert, Electric Machines, p. 140", "frequency and pole pairs", SLIPPING),
    ),
    Quantity(
        *("slip", "s", "slip", "", 4),
        *("(n_s - n) / n_s", "Guru and Hiziroglu, 3rd ed., p. 513", "frequency, pole pairs and speed", SLIPPING),
    ),
)
QUIET = 0.02  # of the plate current
ABOVE_FIELD = "faster than its field: are pole pairs and pulses to a turn as on the plate?"
_ABOVE = 0.1  # of the synchronous speed: no load drives an induction motor so far above it (common practice)


def frequency_readings(a: Analysis, motor: MotorType | None, plate: Plate, speed: Reading | None) -> list[Reading]:
    """Readings of `FREQUENCY` that make sense for this board and motor type."""
    if not a.layout.clock:
        return []
    frequency = _frequency(a)
    if motor is None or not motor.has_slip:
        return [frequency]
    synchronous = _synchronous(frequency, plate)
    if synchronous.value is not None and (why_not := _undriven(a, plate)):  # the field is then the rotor's own
        return [frequency, synchronous, absent("slip", why_not)]
    return [frequency, synchronous, _slip(synchronous, speed)]


def _undriven(a: Analysis, plate: Plate) -> str:
    """Why the motor is taken as not driven, or empty."""
    rows = zip(a.layout.rows, a.rms, strict=True)
    row, drawn_a = next(((row, rms) for row, rms in rows if not row.is_voltage and not row.place), (None, 0.0))
    if row is None or not plate.current_a or drawn_a >= QUIET * plate.current_a:
        return ""
    if drawn_a < row.limit:
        return "no current flows: it is not driven"
    share = f"less than {100 * QUIET:.0f} % of the plate's {plate.current_a:g} A"
    return f"{drawn_a:.3g} A is {share}: it is taken as not driven, if the plate is right"


def _frequency(a: Analysis) -> Reading:
    key = "frequency_hz" if a.layout.clock_is_voltage else "current_frequency_hz"
    if a.frequency_hz is None:
        return absent(key, a.silence)
    return given(key, a.frequency_hz, "", joined(a.clipped[a.clock], a.unsteady), None, frequency_uncertainty(a))


def frequency_uncertainty(a: Analysis) -> Uncertainty | None:
    """Noise and the board's clock."""
    spread, row = a.spreads[a.clock], a.layout.rows[a.clock]
    if not a.wander or row.channel.clock is None or a.frequency_hz is None:  # a frequency needs no gain
        return None
    clock = a.frequency_hz * row.channel.clock.standard
    return combined(a.frequency_hz, [(spread.words.noise, a.frequency_hz * a.wander, spread.dof), (CLOCK, clock, inf)])


def _synchronous(frequency: Reading, plate: Plate) -> Reading:
    key = "synchronous_speed_rpm"
    pairs = pole_pairs_of(plate)
    if not isinstance(frequency.value, float):
        return absent(key, frequency.reason)
    if pairs is None:
        return absent(key, "pole pairs are not known")
    sure = None if frequency.uncertainty is None else scaled(frequency.uncertainty, 60.0 / pairs)
    return given(key, 60.0 * frequency.value / pairs, "", frequency.reason, None, sure)


def _slip(synchronous: Reading, speed: Reading | None) -> Reading:
    """Against the field's direction where the speed is signed; a pulse sensor's speed is taken as with the field."""
    if not isinstance(synchronous.value, float):
        return absent("slip", synchronous.reason)
    if speed is None:
        return absent("slip", "no input gives the speed")
    if not isinstance(speed.value, float):
        return absent("slip", speed.reason)
    slip = 1.0 - speed.value / synchronous.value
    doubt = joined(synchronous.reason, speed.reason, ABOVE_FIELD if slip < -_ABOVE else "")
    return given("slip", slip, "", doubt, None, _of_slip(synchronous, speed))


def _of_slip(synchronous: Reading, speed: Reading) -> Uncertainty | None:
    """The board's clock drops out: it is the same for both."""
    assert isinstance(synchronous.value, float)
    assert isinstance(speed.value, float)
    both = [(each, each.uncertainty) for each in (synchronous, speed)]
    ratio = speed.value / synchronous.value
    parts: list[Standard] = []
    for each, uncertainty in both:
        if uncertainty is None or not isinstance(each.value, float):
            return None
        factor = abs(ratio / each.value) if each.value else 1.0 / abs(synchronous.value)
        parts += [(source, factor * standard, dof) for source, standard, dof in parts_of(uncertainty, CLOCK)]
    return combined(1.0 - ratio, parts)
