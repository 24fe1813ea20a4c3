"""How a run was spent: spells of run states, later told ones in place of what was told before. Pure."""

from bisect import bisect_right

import numpy as np
from numpy.typing import NDArray

from server.pipeline import Output
from server.report.report import Spell

SPELLS_MAX = 5000  # a motor that starts and stops every ten seconds for half a day; then the oldest are joined
UNKNOWN, NOT_RECORDED = "unknown", "not recorded"


class States:
    """Give it outputs in turn, and where recording was broken off."""

    def __init__(self) -> None:
        self._changes: list[tuple[float, str]] = []

    def take(self, part: Output) -> None:
        """What its rows told of the state."""
        for fast in part.fast:
            for change in fast.changes:
                self.add(part.clock.utc_s(change.board_s), change.state)

    def broken(self, utc_s: float) -> None:
        """Nothing was recorded from here on, until the next change."""
        self.add(utc_s, NOT_RECORDED)

    def going_on(self, utc_s: float) -> None:
        """Something was recorded again."""
        if self._changes and self._changes[-1][1] == NOT_RECORDED:
            self._changes.append((utc_s, UNKNOWN))

    def add(self, utc_s: float, state: str) -> None:
        """From this moment on; what was told of later ones holds no more."""
        while self._changes and self._changes[-1][0] >= utc_s and self._changes[-1][1] != NOT_RECORDED:
            self._changes.pop()
        self._changes.append((utc_s, state))
        if len(self._changes) > SPELLS_MAX:
            self._changes[: SPELLS_MAX // 2] = [(self._changes[0][0], UNKNOWN)]

    def at(self, utc_s: float) -> str:
        """The state at this moment, as far as it has been told."""
        place = bisect_right(self._changes, utc_s, key=lambda each: each[0])
        return self._changes[place - 1][1] if place else UNKNOWN

    def are(self, utc_s: NDArray[np.float64], state: str) -> NDArray[np.bool_]:
        """Whether this was the state at each of these moments."""
        place = np.searchsorted([each for each, _ in self._changes], utc_s, side="right")
        return np.array([state == UNKNOWN, *(each == state for _, each in self._changes)])[place]

    def spells(self, to_utc_s: float) -> tuple[Spell, ...]:
        """One behind the other, alike neighbours joined."""
        spells: list[Spell] = []
        if not self._changes:
            return ()
        ends = [utc_s for utc_s, _ in self._changes[1:]] + [to_utc_s]
        for (since, state), to in zip(self._changes, ends, strict=True):
            if spells and spells[-1].state == state:
                spells[-1] = Spell(state, spells[-1].from_utc_s, max(to, since))
            else:
                spells.append(Spell(state, since, max(to, since)))
        return tuple(spells)
