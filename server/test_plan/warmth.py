"""Temperatures of a run as a slow record: means of a few minutes each. Pure."""

from collections.abc import Mapping
from typing import Any

from server.readings import Confidence, Instant

STEP_S = 300.0  # a winding of a small motor follows its load in 10 to 30 min (common practice, no published source)
POINTS_MAX = 1000  # three days and a half; later ones are left out, and the judgement says so
PLACES_MAX = 16
_KEYS = ("temperature_c", "winding_temperature_c")


class Warmth:
    """Give it instants with the UTC of their end; `before`: a record to go on from.

    `record()` is {reading: [[UTC of the middle, mean], ...]}.
    """

    def __init__(self, before: Mapping[str, list[list[float]]] | None = None) -> None:
        self._points = {name: [(at, value) for at, value in its] for name, its in (before or {}).items()}
        self._open: dict[str, tuple[int, int, float]] = {}  # number of the step, count, sum

    def take(self, instant: Instant, utc_s: float) -> None:
        """The readings of one window."""
        for reading in instant.readings:
            if reading.key in _KEYS and reading.confidence is Confidence.GOOD and isinstance(reading.value, float):
                self._add(reading.id, reading.value, int(utc_s // STEP_S))

    def _add(self, name: str, value: float, step: int) -> None:
        if name not in self._points:
            if len(self._points) >= PLACES_MAX:
                return
            self._points[name] = []
        number, count, total = self._open.get(name, (step, 0, 0.0))
        if number != step:
            self._close(name)
            count, total = 0, 0.0
        self._open[name] = step, count + 1, total + value

    def _close(self, name: str) -> None:
        number, count, total = self._open.pop(name)
        if count and len(self._points[name]) < POINTS_MAX:
            self._points[name].append(((number + 0.5) * STEP_S, total / count))

    def record(self) -> dict[str, Any]:
        """What is kept, ready for JSON; the step that is open belongs to it as far as it has come."""
        told = {}
        for name, points in self._points.items():
            open_ = self._open.get(name)
            last = [((open_[0] + 0.5) * STEP_S, open_[2] / open_[1])] if open_ else []
            told[name] = [[round(at, 1), round(value, 3)] for at, value in (*points, *last)]
        return told
