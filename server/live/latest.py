"""The newest reading of each id, with its own moment and interval; aged when it is looked at. Pure and bounded.

A number that was doubtful or absent is shown as doubtful for a while longer, so that its mark does not flicker. That is
for the eye alone: what the pipeline says, lines and recordings included, knows nothing of it.
"""

from dataclasses import dataclass
from math import isfinite

from server.live.ageing import aged
from server.live.intervals import interval_record
from server.live.records import TIME_DIGITS, BoardClock
from server.quantities import EVERY_S, ONCE_A_SECOND
from server.readings import Confidence, Instant, Reading, Value, doubtful

HOLD_S = 1.0
IDS_MAX = 512  # ids beyond it are not kept; the catalogue times the places of any board is far below


@dataclass(frozen=True, slots=True)
class Known:
    """A reading, when it was true, and the longest time to the next one that the board promises."""

    reading: Reading
    at_utc_s: float
    interval_s: float
    doubt: tuple[str, float] | None = None  # why it was last no good one, and when


class Latest:
    """Give it instants in order."""

    def __init__(self) -> None:
        self._known: dict[str, Known] = {}

    def take(self, instant: Instant, clock: BoardClock) -> None:
        """Its readings take the place of older ones of the same ids."""
        at_utc_s = round(clock.utc_s(instant.board_s), TIME_DIGITS)
        for reading in instant.readings:
            if reading.id in self._known or len(self._known) < IDS_MAX:
                rare = reading.key in ONCE_A_SECOND
                interval_s = max(instant.interval_s, EVERY_S) if rare else instant.interval_s
                self._known[reading.id] = self._held(reading, at_utc_s, interval_s)

    def _held(self, reading: Reading, at_utc_s: float, interval_s: float) -> Known:
        if reading.confidence is not Confidence.GOOD:
            return Known(reading, at_utc_s, interval_s, (reading.reason, at_utc_s))
        before = self._known.get(reading.id)
        if before is None or before.doubt is None or not isinstance(reading.value, float):  # nearly always
            return Known(reading, at_utc_s, interval_s)
        if reading.value == 0.0:  # it stands: the bound before was on its way there
            return Known(reading, at_utc_s, interval_s)
        reason, last_utc_s = before.doubt
        if at_utc_s - last_utc_s > HOLD_S:
            return Known(reading, at_utc_s, interval_s)
        return Known(doubtful(reading, f"until a moment ago: {reason}"), at_utc_s, interval_s, before.doubt)

    def get(self, reading_id: str) -> Reading | None:
        """The reading as it was, whatever its age."""
        known = self._known.get(reading_id)
        return known.reading if known else None

    def known(self, reading_id: str) -> Known | None:
        """The reading with its moment, whatever its age."""
        return self._known.get(reading_id)

    def number(self, reading_id: str) -> float | None:
        """Its value where it is a finite number and not absent."""
        reading = self.get(reading_id)
        value = reading.value if reading else None
        return float(value) if isinstance(value, (int, float)) and isfinite(value) else None

    def word(self, reading_id: str) -> str:
        """Its value where it is a word, or empty."""
        reading = self.get(reading_id)
        return reading.value if reading and isinstance(reading.value, str) else ""

    def record(
        self, now_utc_s: float, hurry: float = 1.0, without: frozenset[str] = frozenset()
    ) -> dict[str, dict[str, object]]:
        """The `readings` of SOCKET.md but these keys, each as trustworthy as it still is now; `hurry` as in OwnTime."""
        known = self._known.items()
        return {each: _record(its, now_utc_s, hurry) for each, its in known if its.reading.key not in without}


def _record(known: Known, now_utc_s: float, hurry: float) -> dict[str, object]:
    reading, how = aged(known.reading, (now_utc_s - known.at_utc_s) / hurry, known.interval_s)
    value, confidence, reason = reading.value, reading.confidence, reading.reason
    if not _finite(value):  # what JSON does not have, and what would be no number anyway
        value, confidence, reason = None, Confidence.ABSENT, "no finite number"
    return {
        "value": list(value) if isinstance(value, tuple) else value,
        "confidence": confidence.value,
        "reason": reason,
        "at_utc_s": known.at_utc_s,
        "aged": how.value,
        **({} if reading.least is None else {"least": reading.least}),
        **({} if value is None or reading.uncertainty is None else interval_record(reading)),
    }


def _finite(value: Value | None) -> bool:
    parts = value if isinstance(value, tuple) else (value,)
    return all(isfinite(part) for part in parts if isinstance(part, (int, float)))
