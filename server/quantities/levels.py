"""RMS, mean, peak and crest factor of each voltage and current."""

from firmware_protocol import SampleKind
from server.quantities.analysis import Analysis
from server.quantities.quantity import Quantity
from server.quantities.reasons import AC_COUPLED, GAP, MEANS, below, given, joined, too_small
from server.readings import Reading, absent
from server.samples import PEAK

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
        *("current_peak_a", "I_peak", "current, peak", "A", 3),
        *("largest magnitude of a sample in the window", "IEC 60050-103, peak value (from memory)"),
        "a current channel",
    ),
    Quantity(
        *("current_crest_factor", "", "crest factor of the current", "", 2),
        *("peak over RMS", "IEC 60050-103, peak factor (from memory)", "a current channel"),
    ),
)
_KEYS = {True: ("voltage_rms_v", "voltage_mean_v"), False: ("current_rms_a", "current_mean_a")}


def level_readings(a: Analysis) -> list[Reading]:
    """Readings of `LEVELS`, row after row. Peaks are of currents, and of samples that are instantaneous values.

    A sensor that is AC-coupled has no mean; where the motor may run on direct current that is said, and the RMS is
    doubtful.
    """
    readings: list[Reading] = []
    for k, row in enumerate(a.layout.rows):
        kind, clipped = row.channel.kind, a.clipped[k]
        doubt, mean_doubt = "", ""
        if clipped or a.partial:
            doubt = joined(f"at least this much: {clipped}" if clipped else "", a.partial)
            mean_doubt = joined(clipped, a.partial)
        hides = row.channel.ac_coupled and (row.steady or row.either)
        if kind is SampleKind.MEAN:
            doubt = joined(doubt, MEANS)
        elif hides and a.frequency_hz is None:
            doubt = joined(doubt, AC_COUPLED)
        rms_key = "voltage_rms_v" if row.is_voltage else "current_rms_a"
        readings.append(given(rms_key, a.rms[k], row.place, doubt, below(a.rms[k], row.limit)))
        if kind is SampleKind.RMS:
            continue
        mean_key = "voltage_mean_v" if row.is_voltage else "current_mean_a"
        if not row.channel.ac_coupled:
            readings.append(given(mean_key, a.mean[k], row.place, mean_doubt, below(a.mean[k], row.limit)))
        elif hides:
            readings.append(absent(mean_key, AC_COUPLED, row.place))
        if not row.is_voltage and kind is SampleKind.INSTANTANEOUS:
            readings += _peaks(a, k)
    return readings


def _peaks(a: Analysis, k: int) -> tuple[Reading, Reading]:
    row = a.layout.rows[k]
    if why_not := a.clipped[k] or (GAP if a.partial else ""):
        return absent("current_peak_a", why_not, row.place), absent("current_crest_factor", why_not, row.place)
    peak = given("current_peak_a", a.peak[k], row.place, least=below(a.peak[k], PEAK * row.limit))
    if a.rms[k] < row.limit:
        return peak, absent("current_crest_factor", too_small(row), row.place)
    return peak, Reading("current_crest_factor", a.peak[k] / a.rms[k], place=row.place)
