"""What a page asks of a kept picture: a stretch of it drawn, with where points come to stand, and what lies between two
points. Pure; all times are seconds from the beginning of what is kept."""

from typing import Any

import numpy as np

from server.live.intervals import interval_record
from server.live.kept import Kept
from server.live.pair import Line, Lines, drawn_lines
from server.live.stops import peaks, zeros
from server.live.stretch import stretch_readings
from server.live.thinning import Floats
from server.live.trace import drawn_trace
from server.live.two_points import Point, Snap, time_readings, value_readings
from server.live.wave import Wave, wave_of
from server.live.window import Window
from server.readings import Reading

COLUMNS_MAX = 4000
SAMPLES_MAX = 4000  # of a line in one answer; of more it has only zeros and peaks
SPAN_MIN_S = 1e-6


class NoLineError(ValueError):
    """There is no line of that channel in what is kept."""


def kept_trace(kept: Kept, from_s: float, to_s: float, columns: int) -> dict[str, Any]:
    """The `trace` of SOCKET.md of a stretch; each line that a point can stand on with its channel, its stops and, if
    they are few enough, its samples. Raises ValueError for an empty stretch."""
    if not to_s - from_s >= SPAN_MIN_S:
        raise ValueError("the stretch ends before it begins")
    window = Window(kept.start_s + from_s, to_s - from_s)
    lines = drawn_lines(kept.cuts, kept.motor)
    drawn = _json(drawn_trace(window, lines, columns))
    measured = {(line.channel.role.name.lower(), line.channel.place): line for line in lines.all}
    for record in drawn["lines"]:
        line = measured.get((record["role"], record["place"]))
        record |= _points_of(line, window, from_s) if line is not None else {}
    beside = {"zero_voltage_s": None, "zero_current_s": None}
    return {"start_utc_s": kept.start_utc_s + from_s, "from_s": from_s, **drawn, **beside}


def _points_of(line: Line, window: Window, from_s: float) -> dict[str, object]:
    """Where points may stand on it: moments from the beginning of what is kept, and values."""
    wave = wave_of(line)
    end_s = window.start_s + window.span_s
    first = max(int(np.ceil(wave.place(window.start_s))), 0)
    last = min(int(np.floor(wave.place(end_s))), wave.values.size - 1)
    values = wave.values[first : last + 1]
    begin_s = from_s + wave.first_s + first / wave.rate_hz - window.start_s
    at_peaks = peaks(values)
    few = values.size <= SAMPLES_MAX
    return {
        "channel": line.channel.index,
        "zeros_s": [begin_s + place / wave.rate_hz for place in zeros(values).tolist()],
        "peaks": [[begin_s + k / wave.rate_hz, float(values[k])] for k in at_peaks.tolist()],
        "samples": {"first_s": begin_s, "step_s": 1.0 / wave.rate_hz, "values": _list(values) if few else []},
    }


def between_points(kept: Kept, one: tuple[float, int, Snap], other: tuple[float, int, Snap]) -> dict[str, Any]:
    """All numbers of two points, each a moment, the index of a channel and what it stands at. Raises NoLineError."""
    lines = drawn_lines(kept.cuts, kept.motor)
    first, second = (_point(kept, lines, *each) for each in (one, other))
    early, late = sorted((first.board_s, second.board_s))
    readings = [*time_readings(first, second, kept.frequency), *value_readings(first, second)]
    if late > early:
        readings += stretch_readings(_main(lines), _beside(lines, (one[1], other[1])), early, late)
    return {each.id: _reading(each) for each in readings}


def _point(kept: Kept, lines: Lines, at_s: float, channel: int, snap: Snap) -> Point:
    line = next((each for each in lines.all if each.channel.index == channel), None)
    if line is None:
        raise NoLineError(f"no line of channel {channel} is kept")
    return Point(kept.start_s + at_s, wave_of(line), snap)


def _main(lines: Lines) -> tuple[Wave | None, Wave | None]:
    voltage, current = (None if line is None else wave_of(line) for line in (lines.voltage, lines.current))
    return voltage, current


def _beside(lines: Lines, channels: tuple[int, int]) -> list[tuple[str, Wave]]:
    """Lines of the points that are not the main ones, by their places."""
    its = [line for line in lines.all if line not in lines.main and line.channel.index in channels]
    return [(line.channel.place or line.channel.name, wave_of(line)) for line in its]


def _reading(reading: Reading) -> dict[str, object]:
    known = reading.value is not None and reading.uncertainty is not None
    return {
        "value": reading.value,
        "confidence": reading.confidence.value,
        "reason": reading.reason,
        **(interval_record(reading) if known else {}),
    }


def _json(record: Any) -> Any:
    """Arrays as lists, no value as null."""
    if isinstance(record, dict):
        return {key: _json(value) for key, value in record.items()}
    if isinstance(record, list):
        return [_json(each) for each in record]
    return _list(record) if isinstance(record, np.ndarray) else record


def _list(values: Floats) -> list[float | None]:
    return [None if value != value else value for value in values.tolist()]
