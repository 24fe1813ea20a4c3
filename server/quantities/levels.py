"""RMS, mean, peak and crest factor of each voltage and current."""

from server.quantities.analysis import GAP, Analysis
from server.quantities.quantity import Quantity
from server.readings import Confidence, Reading, absent

LEVELS = (
    Quantity("voltage_rms_v", "U", "voltage, RMS", "V", 1, "RMS over whole cycles, IEC 61000-4-30 (from memory)"),
    Quantity("current_rms_a", "I", "current, RMS", "A", 3, "RMS over whole cycles, IEC 61000-4-30 (from memory)"),
    Quantity("voltage_mean_v", "U_mean", "voltage, mean", "V", 2, "mean over whole cycles"),
    Quantity("current_mean_a", "I_mean", "current, mean", "A", 3, "mean over whole cycles"),
    Quantity("current_peak_a", "I_peak", "current, peak", "A", 3, "largest magnitude of a sample in the window"),
    Quantity("current_crest_factor", "k_crest", "crest factor of the current", "", 2, "peak / RMS"),
)
_AC_COUPLED = "the sensor is AC-coupled: a direct part is not in it"


def level_readings(a: Analysis) -> list[Reading]:
    """Readings of `LEVELS`, row after row."""
    readings: list[Reading] = []
    for k, row in enumerate(a.layout.rows):
        rms, clipped, place = a.rms[k], a.clipped[k], row.place
        doubt = f"at least this much: {clipped}" if clipped else ""
        if a.partial:
            doubt = f"{doubt}; {a.partial}" if doubt else a.partial
        hides = row.channel.ac_coupled and (row.steady or a.frequency_hz is None)
        readings.append(_level("voltage_rms_v" if row.is_voltage else "current_rms_a", rms, place, _both(doubt, hides)))
        mean_key = "voltage_mean_v" if row.is_voltage else "current_mean_a"
        if row.channel.ac_coupled:
            readings.append(absent(mean_key, _AC_COUPLED, place))
        else:
            readings.append(_level(mean_key, a.mean[k], place, _both(clipped, False) if not a.partial else doubt))
        if not row.is_voltage:
            readings += _peaks(a, k)
    return readings


def _both(doubt: str, hides: bool) -> str:
    if not hides:
        return doubt
    return f"{doubt}; {_AC_COUPLED}" if doubt else _AC_COUPLED


def _level(key: str, value: float, place: str, doubt: str) -> Reading:
    if doubt:
        return Reading(key, value, Confidence.DOUBTFUL, doubt, place)
    return Reading(key, value, place=place)


def _peaks(a: Analysis, k: int) -> list[Reading]:
    row, rms, peak = a.layout.rows[k], a.rms[k], a.peak[k]
    why_not = a.clipped[k] or (GAP if a.partial else "")
    if why_not:
        return [absent(key, why_not, row.place) for key in ("current_peak_a", "current_crest_factor")]
    shown = Reading("current_peak_a", peak, place=row.place)
    if rms < row.limit:
        return [shown, absent("current_crest_factor", too_small(a, k), row.place)]
    return [shown, Reading("current_crest_factor", peak / rms, place=row.place)]


def too_small(a: Analysis, k: int) -> str:
    """Why a ratio of this row is not given."""
    row = a.layout.rows[k]
    what, unit = ("voltage", "V") if row.is_voltage else ("current", "A")
    return f"{what} below {row.limit:.2g} {unit}: the ratio means nothing"
