"""The fundamental that all rows of a window share, or why there is none; and whether it is one to expect. Pure."""

import numpy as np
from numpy.typing import NDArray

from server.quantities.band import lasts
from server.quantities.layout import Layout, Row
from server.signals import LINES_MIN, Tone, find_tone, hann_mean

FED_HZ = (10.0, 400.0)  # what a motor is fed with, brushless and stepping ones aside (common practice)
SLOW = "fewer than two whole cycles in the window"
DIRECT_VOLTAGE, _DIRECT_CURRENT = "direct voltage", "direct current"
STEPPED = "it came or went within the window"
MISFIT_MAX = 0.05  # of the fundamental on the lines beside it, which noise at a channel's limit does not reach
_CYCLES_SHARE_MAX = 1 / 8  # of the sample rate: the highest fundamental whose shape is still known
_AT_END = 1e-6  # of a cycle


def fundamental(
    spectrum: NDArray[np.complex128], values: NDArray[np.float64], rate_hz: float, layout: Layout
) -> tuple[Tone | None, int, str]:
    """The tone, the row it was found in, or why there is none. `spectrum` as from `transform` of `values` (rows,
    samples)."""
    silence, samples = "no channel samples a waveform", values.shape[1]
    for k in layout.clock:
        row = layout.rows[k]
        tone = find_tone(spectrum[k], samples, samples * _CYCLES_SHARE_MAX)
        silence = _silence(tone, row, spectrum[k], values[k], rate_hz)
        if tone is not None and not silence:
            return tone, k, ""
    return None, 0, silence


def _silence(
    tone: Tone | None, row: Row, spectrum: NDArray[np.complex128], values: NDArray[np.float64], rate_hz: float
) -> str:
    """Why this is no fundamental, or empty."""
    samples = values.shape[0]
    what, unit = ("voltage", "V") if row.is_voltage else ("current", "A")
    direct = DIRECT_VOLTAGE if row.is_voltage else _DIRECT_CURRENT
    mean = abs(hann_mean(spectrum, samples))
    if tone is None or tone.rms < row.limit:
        if mean >= row.limit:
            return direct
        if np.linalg.norm(spectrum[1:]) * 2.0**0.5 / samples >= row.limit:
            if not lasts(values):
                return STEPPED
            most = f"{rate_hz * _CYCLES_SHARE_MAX:.4g} Hz"
            return f"the {what} has no wave up to {most}, an eighth of the sample rate: too fast, or noise"
        return f"alternating {what} below {row.limit:.2g} {unit}: too small for a frequency"
    if tone.rms < mean:
        return direct
    if tone.cycles <= LINES_MIN + _AT_END and tone.misfit > MISFIT_MAX:
        return SLOW if lasts(values) else STEPPED
    return ""


def unusual(hertz: float) -> str:
    """Why to doubt that this is the frequency that a motor is fed with, or empty."""
    least, most = FED_HZ
    if hertz < least:
        return f"{hertz:.3g} Hz is below {least:g} Hz, where few motors are fed"
    if hertz > most:
        return f"{hertz:.4g} Hz is above {most:g} Hz: switching or noise may be taken for the supply"
    return ""
