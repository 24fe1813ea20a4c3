"""RMS, mean, peak and crest factor of each voltage and current."""

from math import hypot, inf, pi, sqrt

from firmware_protocol import SampleKind
from server.quantities.analysis import Analysis
from server.quantities.fundamental import FED_HZ, SLOW
from server.quantities.quantity import Quantity
from server.quantities.reasons import AC_COUPLED, GAP, MEANS, below, given, hides_direct, joined, too_small
from server.quantities.uncertainty import Standard, combined
from server.readings import Doubt, Reading, absent
from server.samples import PEAK
from server.signals import find_tone

LEVELS = (
    Quantity(
        *("voltage_rms_v", "U", "voltage, RMS", "V", 1),
        "root of the mean square over the whole cycles in the window; direct current: over the window",
        *("IEC 61000-4-30, 5.2 (from memory)", "a voltage channel"),
    ),
    Quantity(
        *("current_rms_a", "I", "current, RMS", "A", 3),
        "root of the mean square over the whole cycles in the window; direct current: over the window",
        *("IEC 61000-4-30, 5.13 (from memory)", "a current channel"),
    ),
    Quantity(
        *("voltage_mean_v", "U_mean", "voltage, mean", "V", 2),
        *("mean over the whole cycles in the window", "IEC 60050-103, mean value (from memory)"),
        "a voltage channel that passes direct current",
    ),
    Quantity(
        *("current_mean_a", "I_mean", "current, mean", "A", 3),
        *("mean over the whole cycles in the window", "IEC 60050-103, mean value (from memory)"),
        "a current channel that passes direct current",
    ),
    Quantity(
        *("voltage_peak_v", "U_peak", "voltage, peak", "V", 1),
        *("largest magnitude of a sample in the window", "IEC 60050-103, peak value (from memory)"),
        "a voltage channel",
    ),
    Quantity(
        *("voltage_crest_factor", "", "crest factor of the voltage", "", 2),
        *("peak over RMS", "IEC 60050-103, peak factor (from memory)", "a voltage channel"),
    ),
    Quantity(
        *("current_peak_a", "I_peak", "current, peak", "A", 3),
        *("largest magnitude of a sample in the window", "IEC 60050-103, peak value (from memory)"),
        "a current channel",
    ),
    Quantity(
        *("current_crest_factor", "", "crest factor of the current", "", 2),
        *("peak over RMS", "IEC 60050-103, peak factor (from memory)", "a current channel"),
    ),
)
_PEAKS = {
    True: ("voltage_peak_v", "voltage_crest_factor"),
    False: ("current_peak_a", "current_crest_factor"),
}
_NO_MEAN, _ONE_SINE = 0.1, 0.7  # of the RMS: a chopped or rectified supply has more of a mean or less of a sine (ours)
_STEADY = 0.05  # of the RMS: what varies by less is taken as direct (ours)
_HIGHEST_OF_ALL = 4.2  # times the noise of direct current, where all the window's samples may lie at the peak: the
# highest of 4000 is below that in 95 % of windows, and with ripple it is anywhere above nothing
_HIGHEST = 1.45  # times the noise: the highest of some hundred samples near a peak lies two to four times it above


def level_readings(a: Analysis) -> list[Reading]:
    """Readings of `LEVELS`, row after row. Peaks are of samples that are instantaneous values.

    A sensor that is AC-coupled has no mean; where the motor may run on direct current that is said, and the RMS is
    doubtful.
    """
    readings: list[Reading] = []
    for k, row in enumerate(a.layout.rows):
        kind, clipped = row.channel.kind, a.clipped[k]
        doubt, mean_doubt = "", ""
        least = joined(clipped, a.cut_off(k))
        at_least = f"at least this much: {least}" if least else ""
        if least or a.partial:
            doubt = joined(at_least, a.partial)
            mean_doubt = joined(clipped, a.partial)
        fast = a.folded(k) or _undersampled(a, k)
        doubt, mean_doubt = joined(doubt, fast), joined(mean_doubt, fast)
        if a.silence == SLOW and not row.steady:
            doubt, mean_doubt = joined(doubt, SLOW), joined(mean_doubt, SLOW)
        hides = hides_direct(row)
        if kind is SampleKind.MEAN:
            doubt = joined(doubt, MEANS)
        elif hides and a.frequency_hz is None:
            doubt = joined(doubt, AC_COUPLED)
        rms_key = "voltage_rms_v" if row.is_voltage else "current_rms_a"
        spread, sure = a.spreads[k], None
        if not (doubt or spread.why_not):
            sure = combined(a.rms[k], spread.rms_parts(a.rms[k], a.mean[k], a.wander), 0.0)
        says = Doubt.AT_LEAST if doubt == at_least else Doubt.NONE
        readings.append(given(rms_key, a.rms[k], row.place, doubt, below(a.rms[k], row.limit), sure, says))
        if kind is SampleKind.RMS:
            continue
        mean_key = "voltage_mean_v" if row.is_voltage else "current_mean_a"
        if why_not := _alternates(a, k):  # a mean of nothing must not stand for live mains
            readings.append(absent(mean_key, why_not, row.place))
        elif not row.channel.ac_coupled:
            sure = None
            if not (mean_doubt or spread.why_not):
                parts = spread.mean_parts(a.mean[k], a.rms[k], a.wander)
                sure = combined(a.mean[k], parts, scatter=spread.mean_noise)
            readings.append(given(mean_key, a.mean[k], row.place, mean_doubt, below(a.mean[k], row.limit), sure))
        elif hides:
            readings.append(absent(mean_key, AC_COUPLED, row.place))
        if kind is SampleKind.INSTANTANEOUS:
            readings += _peaks(a, k)
    return readings


def _undersampled(a: Analysis, k: int) -> str:
    """Why to doubt what varies and is sampled too slowly for its form to be known, or empty."""
    row = a.layout.rows[k]
    if row.wave or row.channel.kind is not SampleKind.INSTANTANEOUS:
        return ""
    varies = max(a.rms[k] ** 2 - a.mean[k] ** 2, 0.0) ** 0.5
    if varies < max(row.limit, _STEADY * a.rms[k]):
        return ""
    return (
        f"{a.rate_hz:.3g} samples a second: what is faster than {0.5 * a.rate_hz:.3g} Hz is taken for something slower"
    )


def alternating_hz(a: Analysis, k: int) -> float | None:
    """The frequency of a row that should be direct by the motor's type, where most of it is one sine, as of mains."""
    row = a.layout.rows[k]
    if not row.steady or a.rms[k] < row.limit or abs(a.mean[k]) > _NO_MEAN * a.rms[k] or a.spectrum is None:
        return None
    tone = find_tone(a.spectrum[k], a.samples, FED_HZ[1] * a.samples / a.rate_hz)
    if tone is None or tone.rms < _ONE_SINE * a.rms[k] or tone.cycles * a.rate_hz / a.samples < FED_HZ[0]:
        return None
    return tone.cycles * a.rate_hz / a.samples


def _alternates(a: Analysis, k: int) -> str:
    """Why there is no mean of a direct voltage or current, or empty."""
    hertz = alternating_hz(a, k)
    if hertz is None:
        return ""
    what, unit = ("voltage", "V") if a.layout.rows[k].is_voltage else ("current", "A")
    return f"the {what} alternates at {hertz:.3g} Hz with {a.rms[k]:.3g} {unit} RMS: its mean says nothing"


def _peaks(a: Analysis, k: int) -> tuple[Reading, Reading]:
    row = a.layout.rows[k]
    peak_key, crest_key = _PEAKS[row.is_voltage]
    if why_not := a.clipped[k] or (GAP if a.partial else ""):
        return absent(peak_key, why_not, row.place), absent(crest_key, why_not, row.place)
    spread, least, doubt = (
        a.spreads[k],
        below(a.peak[k], PEAK * row.limit),
        joined(a.cut_off(k), a.folded(k) or _undersampled(a, k)),
    )
    parts = None if spread.why_not or doubt else _peak_parts(a, k)
    middle = a.peak[k] - _lifted(a, k)
    peak = given(peak_key, a.peak[k], row.place, doubt, least, combined(middle, parts, 0.0) if parts else None)
    if a.rms[k] < row.limit:
        return peak, absent(crest_key, too_small(row), row.place)
    crest = a.peak[k] / a.rms[k]
    both = abs(1.0 - crest * abs(a.mean[k]) / a.rms[k])  # of an offset, which moves peak and RMS
    sure = None
    if parts:
        noise, _, (offset, standard, dof), *rest = parts  # the gain drops out
        its = [noise, (offset, both * standard, dof), *rest]
        sure = combined(middle / a.rms[k], [(what, each / a.rms[k], dof) for what, each, dof in its], 1.0)
    return peak, given(crest_key, crest, row.place, doubt, uncertainty=sure)


def _lifted(a: Analysis, k: int) -> float:
    """By how much noise lifts the peak of direct current, the middle of what it may be."""
    if a.frequency_hz is not None:
        return 0.0
    return 0.5 * _HIGHEST_OF_ALL * (a.spreads[k].own_noise or a.spreads[k].noise)


def _peak_parts(a: Analysis, k: int) -> list[Standard]:
    """The highest of many noisy samples lies above the peak; between two samples the wave may have been higher."""
    spread, peak = a.spreads[k], a.peak[k]
    parts: list[Standard] = [
        (spread.words.gain, spread.gain * peak, spread.gain_dof),
        (spread.words.offset, spread.offset, spread.offset_dof),
        (spread.words.step, spread.step, inf),
    ]
    if a.frequency_hz is None:  # half of what noise may add to it has been taken off the interval's middle
        lifted = ("peak that noise lifts", _lifted(a, k) / sqrt(3.0), inf)
        return [(spread.words.noise, spread.rms_noise, spread.dof), *parts, lifted]
    noise = hypot(_HIGHEST * spread.noise, spread.rms_noise)
    between = peak * (pi * a.frequency_hz / a.rate_hz) ** 2 / 2.0
    return [(spread.words.noise, noise, spread.dof), *parts, ("peak between two samples", between, inf)]
