"""Where the picture is held, and the whole trace with its time and phase. Pure but for the span it remembers."""

import numpy as np
from numpy.typing import NDArray

from server.live.latest import Latest
from server.live.pair import Lines
from server.live.records import BoardClock
from server.live.trace import drawn_trace, phase_marks
from server.live.window import CYCLES, FREE_S, Window, held_at_hall, held_at_zero, newest
from server.motors import MotorType, Supply
from server.readings import Confidence, Reading

FIRST_HZ = 50.0  # until a frequency was read
STILL = 0.02  # of a turn


class Scene:
    """The last good frequency and turn: the picture keeps its width while the supply comes, goes or is off."""

    def __init__(self) -> None:
        self._frequency_hz: float | None = None
        self._turn_s: float | None = None

    def trace(
        self,
        lines: Lines,
        motor: MotorType | None,
        latest: Latest,
        hall_rises_s: NDArray[np.float64],
        clock: BoardClock,
        columns: int,
        cycles: int = CYCLES,
    ) -> dict[str, object] | None:
        """The `trace` of SOCKET.md; None where no voltage or current has come."""
        if lines.voltage is None and lines.current is None:
            return None
        window = self._window(lines, motor, latest, hall_rises_s, cycles)
        phase_deg = latest.number("phase_angle_deg")
        return {
            "start_utc_s": clock.utc_s(window.start_s),
            **drawn_trace(window, lines, columns),
            **phase_marks(window, phase_deg),
        }

    def _window(
        self, lines: Lines, motor: MotorType | None, latest: Latest, hall_rises_s: NDArray[np.float64], cycles: int
    ) -> Window:
        rings = [line.ring for line in (lines.voltage, lines.current) if line is not None]
        first_s, end_s = max(ring.first_s for ring in rings), min(ring.end_s for ring in rings)
        direct = motor is not None and motor.supply is Supply.DIRECT
        if not direct:
            for line, key in ((lines.voltage, "frequency_hz"), (lines.current, "current_frequency_hz")):
                frequency_hz = self._trusted(latest.get(key))
                if line is not None and frequency_hz and (window := held_at_zero(line, frequency_hz, end_s, cycles)):
                    return window
        if window := held_at_hall(hall_rises_s, first_s, end_s, cycles):
            return window
        free_s = FREE_S * cycles / CYCLES
        if not direct:
            free_s = cycles / (self._frequency_hz or FIRST_HZ)
        elif (turn_s := self._turn(latest.get("speed_rpm"))) and cycles * turn_s <= end_s - first_s:
            return newest(end_s, cycles * turn_s, cycles)
        return newest(end_s, min(free_s, end_s - first_s))

    def _turn(self, speed: Reading | None) -> float | None:
        """How long a turn of the shaft is; a little more or less is not followed, so that the axis stands still."""
        if speed is None or speed.confidence is not Confidence.GOOD or not isinstance(speed.value, float):
            return None
        if not speed.value:
            return None
        turn_s = 60.0 / abs(speed.value)
        if self._turn_s is None or abs(turn_s - self._turn_s) > STILL * self._turn_s:
            self._turn_s = turn_s
        return self._turn_s

    def _trusted(self, reading: Reading | None) -> float | None:
        """The frequency; while it is doubtful the last good one, None while it is absent."""
        if reading is None or not isinstance(reading.value, float) or not reading.value > 0:
            return None
        if reading.confidence is Confidence.GOOD or self._frequency_hz is None:
            self._frequency_hz = reading.value
        return self._frequency_hz
