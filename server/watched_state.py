"""Rows and run state of a motor's main group, window by window. Pure; one board with one motor."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from server.config import Plate, RigSettings
from server.motors import MotorType, Supply
from server.quantities.switching import switched
from server.readings import Fast, Reading, StateChange, doubtful
from server.run_state import ROW_S, Levels, RunState, State, Told, levels_of, rows_of, unknown, wanted_of
from server.samples import Channel, EdgeTrain, Samples


class WatchedState:
    """`channels`: of the main group, empty where there is none. `voltage`, `current`: the main ones by their place."""

    def __init__(
        self, channels: tuple[Channel, ...], motor: MotorType | None, plate: Plate, settings: RigSettings
    ) -> None:
        self._motor, self._plate, self._stopped_rpm = motor, plate, settings.stopped_rpm
        self._wanted = wanted_of(channels, motor)
        self.voltage, self.current = self._wanted.voltage, self._wanted.current
        self._state, self._no_state = self._state_of(channels, settings)
        self._word = ""  # the run state as it was last told
        self.confirmed = True  # nothing was lost on the way to the states of the last window

    def _state_of(self, channels: tuple[Channel, ...], settings: RigSettings) -> tuple[RunState | None, str]:
        if self._motor is None:
            return None, "motor type not set"
        at = self._wanted.state_current
        current = None if at is None else channels[at]
        levels = levels_of(self._motor, self._plate, settings, current, bool(self._wanted.phases))
        return (RunState(levels), "") if isinstance(levels, Levels) else (None, levels)

    def take(
        self, samples: Samples, train: EdgeTrain | None, failed: Callable[[str, Exception], str]
    ) -> tuple[Fast | None, tuple[str, ...], Reading]:
        """Rows of the window, the run state after each of them, and the reading of the last; `failed` gives the reason
        where computing it raises."""
        try:
            rows = rows_of(samples, train, self._motor, self._plate, self._wanted, self._stopped_rpm)
            if rows is None:
                return None, (), unknown("sampled too slowly for a run state")
            if self._state is None:
                return self._with_changes(rows[0], [Told(State.UNKNOWN, self._no_state)]), (), unknown(self._no_state)
            told = [self._state.take(row) for row in rows[1]()]
            self.confirmed = all(each.confirmed for each in told)
        except Exception as error:  # whatever it is, the other readings go on
            self._word = ""
            return None, (), unknown(failed("run state", error))
        reading = told[-1].reading
        at = self._wanted.state_current
        if at is not None and samples.clipped[at].any():
            reading = doubtful(reading, "the current was clipped")
        words = tuple([each.word for each in told])
        fast = _known_speed(rows[0], words, self._stopped_rpm)
        steady = words[0] == self._word and words.count(self._word) == len(words)  # nearly always
        return fast if steady else self._with_changes(fast, told), words, reading

    def switched(self, samples: Samples, fast: Fast) -> bool:
        """Whether the supply was switched within the window."""
        alternating = self._motor is None or self._motor.supply is Supply.ALTERNATING
        return switched(samples, self.voltage, self.current, fast, self._plate, alternating)

    def _with_changes(self, fast: Fast, told: list[Told]) -> Fast:
        """The rows with the changes of the run state that they told."""
        changes: list[StateChange] = []
        for row, each in enumerate(told):
            if each.word != self._word:
                self._word = each.word
                told_s = float(fast.board_s[row])
                since_s = told_s - (each.age + 1) * ROW_S
                changes.append(StateChange(since_s, told_s, each.word, each.give * ROW_S))
        return replace(fast, changes=tuple(changes)) if changes else fast


def _known_speed(fast: Fast, states: tuple[str, ...], stopped_rpm: float) -> Fast:
    """Where current has begun to flow and no edge has come since, a shaft that stood is not known to stand."""
    if State.STARTING not in states:  # nearly always
        return fast
    unknown = (np.abs(fast.speed_rpm) < stopped_rpm) & (np.array(states) == State.STARTING)
    return replace(fast, speed_rpm=np.where(unknown, np.nan, fast.speed_rpm)) if unknown.any() else fast
