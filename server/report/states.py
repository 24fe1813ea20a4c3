"""How a run was spent: spells of run states, later told ones in place of what was told before. Pure."""

from bisect import bisect_right
from collections.abc import Iterable, Mapping
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from server.pipeline import Output
from server.report.report import Spell

SPELLS_MAX = 5000  # that are drawn; of more the oldest are joined and drawn as not known
CHANGES_MAX = 200_000  # a motor that starts and stops every second for half a day; of more the oldest are sums alone
UNKNOWN, NOT_RECORDED = "unknown", "not recorded"


class States:
    """Give it outputs in turn, and where recording was broken off."""

    def __init__(self) -> None:
        self._changes: list[tuple[float, str]] = []
        self._before: dict[
            str, tuple[int, float]
        ] = {}  # of those that are sums alone: the first change stands for them

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
        if len(self._changes) > CHANGES_MAX:
            half = CHANGES_MAX // 2
            self._before = _added(self._before, self._known(self._changes[: half + 1]))
            self._changes[:half] = [(self._changes[0][0], UNKNOWN)]

    def at(self, utc_s: float) -> str:
        """The state at this moment, as far as it has been told."""
        place = bisect_right(self._changes, utc_s, key=lambda each: each[0])
        return self._changes[place - 1][1] if place else UNKNOWN

    def are(self, utc_s: NDArray[np.float64], state: str) -> NDArray[np.bool_]:
        """Whether this was the state at each of these moments."""
        place = np.searchsorted([each for each, _ in self._changes], utc_s, side="right")
        return np.array([state == UNKNOWN, *(each == state for _, each in self._changes)])[place]

    def spells(self, to_utc_s: float) -> tuple[Spell, ...]:
        """One behind the other, alike neighbours joined; the newest SPELLS_MAX."""
        spells = _spells([*self._changes, (to_utc_s, "")]) if self._changes else []
        joined = spells[: max(0, len(spells) - SPELLS_MAX + 1)]
        if len(joined) > 1:
            spells[: len(joined)] = [Spell(UNKNOWN, joined[0].from_utc_s, joined[-1].to_utc_s)]
        return tuple(spells)

    def spent(self, to_utc_s: float) -> dict[str, tuple[int, float]]:
        """Of each state, how often and for how many seconds in all: of all spells, those that are not kept too."""
        return _added(self._before, self._known([*self._changes, (to_utc_s, "")]) if self._changes else ())

    def _known(self, changes: list[tuple[float, str]]) -> list[Spell]:
        """Without what stands for those before."""
        return _spells(changes[1:] if self._before else changes)


def spent_of(spells: Iterable[Spell]) -> dict[str, tuple[int, float]]:
    """Of each state, how often and for how many seconds in all."""
    return _added({}, spells)


def _added(before: Mapping[str, tuple[int, float]], spells: Iterable[Spell]) -> dict[str, tuple[int, float]]:
    spent = dict(before)
    for each in spells:
        count, seconds = spent.get(each.state, (0, 0.0))
        spent[each.state] = count + 1, seconds + each.to_utc_s - each.from_utc_s
    return spent


def _spells(changes: list[tuple[float, str]]) -> list[Spell]:
    """From each change to the next, alike neighbours joined; the last one ends them."""
    spells: list[Spell] = []
    for (since, state), (to, _) in pairwise(changes):
        if spells and spells[-1].state == state:
            spells[-1] = Spell(state, spells[-1].from_utc_s, max(to, since))
        else:
            spells.append(Spell(state, since, max(to, since)))
    return spells
