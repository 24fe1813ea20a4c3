"""Lowest and highest RMS over one cycle within the window: a dip or a swell that the window's own RMS hides."""

from math import hypot, inf, log

import numpy as np

from server.quantities.analysis import Analysis
from server.quantities.quantity import ALTERNATING, Quantity
from server.quantities.reasons import GAP, below, given, joined
from server.quantities.uncertainty import Standard, combined
from server.readings import Reading, absent

_WHAT = "RMS over one cycle, refreshed each half cycle, in the window"
_FROM = "IEC 61000-4-30, 5.4.1 (from memory)"
HALF_CYCLES = tuple(
    Quantity(
        f"{name}_half_cycle_{end}_{unit.lower()}",
        f"{symbol}_{end}",
        f"{name}, {word} over a cycle",
        unit,
        digits,
        f"{word} {_WHAT}",
        *(_FROM, f"a {name} channel", ALTERNATING),
    )
    for name, unit, symbol, digits in (("voltage", "V", "U", 1), ("current", "A", "I", 3))
    for end, word in (("min", "lowest"), ("max", "highest"))
)
_OUTERMOST = 0.15  # more than the noise of one, by the logarithm of their number: 1.45 of twenty, 1.2 of five (normal
# distribution; neighbours share half of their samples, which makes it a little less)
_FEW = "less than one and a half cycles in the window"


def half_cycle_readings(a: Analysis) -> list[Reading]:
    """Readings of `HALF_CYCLES`, of rows that are waves."""
    readings: list[Reading] = []
    found = None if a.half_cycles is None or not a.half_cycles.shape[1] else a.half_cycles
    ends = [] if found is None else np.stack((found.min(axis=1), found.max(axis=1)), axis=1).tolist()
    for k, row in enumerate(a.layout.rows):
        if row.steady or not row.wave:
            continue
        name, unit = ("voltage", "v") if row.is_voltage else ("current", "a")
        keys = [f"{name}_half_cycle_{end}_{unit}" for end in ("min", "max")]
        if a.partial or a.silence or not ends:
            why_not = GAP if a.partial else a.silence or _FEW
            readings += [absent(key, why_not, row.place) for key in keys]
            continue
        doubt = joined(a.clipped[k], a.cut_off(k), a.folded(k), a.unsteady)
        for key, value in zip(keys, ends[k], strict=True):
            sure = None if doubt or a.spreads[k].why_not else combined(value, _parts(a, k, value), 0.0)
            readings.append(given(key, value, row.place, doubt, below(value, row.limit), sure))
    return readings


def _parts(a: Analysis, k: int, value: float) -> list[Standard]:
    assert a.half_cycles is not None
    spread = a.spreads[k]
    outermost = 1.0 + _OUTERMOST * log(a.half_cycles.shape[1])
    cycle = (a.rate_hz / (a.frequency_hz or a.rate_hz)) ** 0.5
    offset = hypot(a.mean[k], spread.offset) * spread.offset / value if value else spread.offset
    return [
        (spread.words.noise, outermost * spread.noise / cycle, spread.dof),
        (spread.words.gain, spread.gain * value, spread.gain_dof),
        (spread.words.offset, min(2.0 * offset, spread.offset), spread.offset_dof),
        (spread.words.step, spread.step, inf),
    ]
