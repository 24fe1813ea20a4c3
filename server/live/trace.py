"""The last cycles as lines of pixel columns, u x i under them, gaps and clipping marked. Pure."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from server.live.pair import Line, Lines, Third
from server.live.thinning import thinned
from server.live.window import Window
from server.samples import PEAK, Channel

BESIDE = 2 / 3  # of the columns: lines beside the main pair are drawn small


def drawn_trace(window: Window, lines: Lines, columns: int) -> dict[str, object]:
    """The trace of SOCKET.md but for `start_utc_s` and the zero crossings of the phase."""
    return {
        "span_s": window.span_s,
        "cycles": window.cycles,
        "turns": window.turns,
        "held_at": window.held_at,
        "columns": columns,
        "lines": _lines(lines, window, columns),
        "power": _power(lines, window, columns),
        "gaps": _gaps(lines, window),
    }


def phase_marks(window: Window, phase_deg: float | None) -> dict[str, float | None]:
    """The zeros between which the phase is drawn: the second rise of the voltage (the first where there is no
    second one), and the current's beside it.

    Both are of the fundamental, so that the drawing and the reading are one number. Seconds from the start.
    """
    if window.cycles is None or phase_deg is None or not window.held_at.endswith("voltage"):
        return {"zero_voltage_s": None, "zero_current_s": None}
    period_s = window.span_s / window.cycles
    rise_s = period_s if window.cycles > 1 else 0.0
    current_s = rise_s + period_s * phase_deg / 360
    seen = current_s >= 0.0
    return {"zero_voltage_s": rise_s if seen else None, "zero_current_s": current_s if seen else None}


def _stretch(line: Line, window: Window) -> tuple[slice, float]:
    """Samples of the window and one on each side, and the position of the first in seconds from its start."""
    ring = line.ring
    first_s = ring.first_s - line.channel.delay_s - window.start_s
    begin = min(max(int(np.floor(-first_s * ring.rate_hz)), 0), ring.count)
    end = min(max(int(np.ceil((window.span_s - first_s) * ring.rate_hz)) + 1, begin), ring.count)
    return slice(begin, end), first_s + begin / ring.rate_hz


def _thinned(
    values: NDArray[np.float32], line: Line, first_s: float, window: Window, columns: int
) -> dict[str, NDArray[np.float32]]:
    per_s = columns / window.span_s
    low, high = thinned(values, first_s * per_s, per_s / line.ring.rate_hz, columns)
    return {"low": low.astype(np.float32, copy=False), "high": high.astype(np.float32, copy=False)}


def _lines(lines: Lines, window: Window, columns: int) -> list[dict[str, object]]:
    beside = round(columns * BESIDE)
    drawn = [_line(line, window, columns if line in lines.main else beside) for line in lines.all]
    if lines.third is not None:
        drawn.append(_third(lines.third, window, beside))
    return [line for line in drawn if line is not None]


def _line(line: Line, window: Window, columns: int) -> dict[str, object] | None:
    stretch, first_s = _stretch(line, window)
    values, channel = line.ring.values[line.row, stretch], line.channel
    clipped = bool(line.ring.clipped[line.row, stretch].any())
    return _record(channel, values, _thinned(values, line, first_s, window, columns), clipped, channel.least)


def _third(third: Third, window: Window, columns: int) -> dict[str, object] | None:
    one, other = third.one, third.other
    stretch, first_s = _stretch(one, window)
    values = -one.ring.values[one.row, stretch] - _in_step(other, one, stretch)
    clipped = bool(one.ring.clipped[[one.row, other.row], stretch].any())
    low, high = -one.channel.high - other.channel.high, -one.channel.low - other.channel.low
    channel = replace(one.channel, name=f"I phase {third.place}", place=third.place, low=low, high=high)
    least = one.channel.least + other.channel.least
    return _record(channel, values, _thinned(values, one, first_s, window, columns), clipped, least)


def _record(
    channel: Channel, values: NDArray[np.float32], thin: dict[str, NDArray[np.float32]], clipped: bool, least: float
) -> dict[str, object] | None:
    lowest, highest = float(np.fmin.reduce(values, initial=np.nan)), float(np.fmax.reduce(values, initial=np.nan))
    if np.isnan(lowest):  # nothing to draw, and no peak to tell
        return None
    return {
        "role": channel.role.name.lower(),
        "place": channel.place,
        "name": channel.name,
        "unit": channel.unit,
        **thin,
        "range": [channel.low, channel.high],
        "peak": [lowest, highest],
        "least": PEAK * least,
        "clipped": clipped,
    }


def _power(lines: Lines, window: Window, columns: int) -> dict[str, object] | None:
    voltage, current = lines.voltage, lines.current
    if voltage is None or current is None or voltage.ring is not current.ring:
        return None
    stretch, first_s = _stretch(voltage, window)
    power = voltage.ring.values[voltage.row, stretch] * _in_step(current, voltage, stretch)
    known = power[~np.isnan(power)]
    if not known.size:
        return None
    forth, back = float(known[known > 0].sum()), float(-known[known < 0].sum())
    shares = forth > back and _is_more_than_noise(voltage, stretch) and _is_more_than_noise(current, stretch)
    return {
        **_thinned(power, voltage, first_s, window, columns),
        "mean": float(known.mean()),
        "back_percent": 100 * back / forth if shares else None,
    }


def _is_more_than_noise(line: Line, stretch: slice) -> bool:
    return bool(np.nanmean(np.square(line.ring.values[line.row, stretch])) > line.channel.least**2)


def _in_step(current: Line, voltage: Line, stretch: slice) -> NDArray[np.float32]:
    """The current at the moments of the voltage's samples: channels of one group may differ by their delay."""
    ring = current.ring
    late = (current.channel.delay_s - voltage.channel.delay_s) * ring.rate_hz
    if not late:
        return np.asarray(ring.values[current.row, stretch], dtype=np.float32)
    whole = int(np.floor(late))
    at = np.arange(stretch.start, stretch.stop) + whole
    values = ring.values[current.row]
    share = np.float32(late - whole)
    here, next_one = (np.where((k >= 0) & (k < ring.count), values[k % ring.count], np.nan) for k in (at, at + 1))
    return np.asarray(here * (1 - share) + next_one * share if share else here, dtype=np.float32)


def _gaps(lines: Lines, window: Window) -> list[list[float]]:
    """Where samples of the main pair are missing, seconds from the start."""
    main = lines.voltage or lines.current
    if main is None:
        return []
    stretch, first_s = _stretch(main, window)
    missing = np.concatenate(([False], main.ring.missing[stretch], [False]))
    edges = np.flatnonzero(missing[1:] != missing[:-1]).reshape(-1, 2)
    spans = first_s + edges / main.ring.rate_hz
    return [[max(float(begin), 0.0), min(float(end), window.span_s)] for begin, end in spans if end > 0]
