"""What is waited for to be kept: the next start, or the next crossing of a limit. Pure.

It looks at what the pipeline says, so it works whether a page is open or not. A crossing needs both sides: what is
beyond the limit already has to come back first.
"""

from dataclasses import dataclass
from enum import StrEnum
from math import isfinite

from server.pipeline import Output
from server.readings import Confidence, Fast
from server.run_state import ROW_S

BEFORE_MAX_S, AFTER_MAX_S = 1.0, 3.0  # both, and how late a start is told, within what a ring holds
ROWS = ("voltage_rms_v", "current_rms_a", "speed_rpm")  # of the main voltage and current: told every 10 ms


class What(StrEnum):
    """What may be waited for."""

    START = "start"
    CROSSING = "crossing"


@dataclass(frozen=True, slots=True)
class Wanted:
    """What to wait for and how much to keep. Of a crossing: the id of the reading, whether it must come to be above
    (else below), and the level in the unit of the reading."""

    what: What
    before_s: float = 0.2
    after_s: float = 1.5
    reading: str = ""
    above: bool = True
    level: float = 0.0

    @property
    def within_s(self) -> float:
        """How finely the moment is known: a row, or a window."""
        return ROW_S if self.what is What.START or self.reading in ROWS else 0.2


class Armed:
    """Waits from `since_s` on, board time; give it outputs in order."""

    def __init__(self, wanted: Wanted, since_s: float) -> None:
        self.wanted = wanted
        self._since_s = since_s
        self._was_beyond: bool | None = None

    def restart(self) -> None:
        """Board time begins again."""
        self._since_s, self._was_beyond = -1.0, None

    def take(self, output: Output) -> float | None:
        """The moment that was waited for, board time, or None: not yet."""
        if self.wanted.what is What.START:
            return self._start(output)
        if self.wanted.reading in ROWS:
            return next((each for fast in output.fast if (each := self._in_rows(fast)) is not None), None)
        return self._in_windows(output)

    def _start(self, output: Output) -> float | None:
        """Told by the run state; of one so short that it was never a state, by the end of it."""
        told = [change.board_s for fast in output.fast for change in fast.changes if change.state == "starting"]
        told += [
            each.board_s - each.value for each in output.events if each.kind == "running" and each.value is not None
        ]
        return min((each for each in told if each >= self._since_s), default=None)

    def _in_rows(self, fast: Fast) -> float | None:
        values = dict(zip(ROWS, (fast.voltage_v, fast.current_a, fast.speed_rpm), strict=True))[self.wanted.reading]
        for end_s, value in zip(fast.board_s.tolist(), abs(values).tolist(), strict=True):
            if end_s >= self._since_s and self._crosses(value):
                return float(end_s) - ROW_S
        return None

    def _in_windows(self, output: Output) -> float | None:
        for instant in output.instants:
            for reading in instant.readings:
                if reading.id != self.wanted.reading or reading.confidence is Confidence.ABSENT:
                    continue
                if isinstance(reading.value, (int, float)) and self._crosses(float(reading.value)):
                    first_s = instant.board_s * instant.first_tick / instant.tick if instant.tick else instant.board_s
                    return (first_s + instant.board_s) / 2
        return None

    def _crosses(self, value: float) -> bool:
        if not isfinite(value):
            return False
        beyond = value > self.wanted.level if self.wanted.above else value < self.wanted.level
        before, self._was_beyond = self._was_beyond, beyond
        return beyond and before is False
