"""How long to wait before the next attempt. Pure, but for the dice that it is given."""

from random import Random

FIRST_S = 0.25  # a broker or server that was started anew
MOST_S = 60.0  # a receiver that is back is found within this, and one attempt a minute is a burden to nobody
SPREAD = 0.25  # of a pause, up and down, so that many services do not come back at the same moment


class Pauses:
    """Each pause is twice the one before, up to the longest; after a success they begin anew."""

    def __init__(self, dice: Random, first_s: float = FIRST_S, most_s: float = MOST_S) -> None:
        self._dice, self._first_s, self._most_s = dice, first_s, most_s
        self._next_s = first_s

    def next_s(self) -> float:
        """The next pause, in seconds."""
        pause_s = self._next_s * self._dice.uniform(1 - SPREAD, 1 + SPREAD)
        self._next_s = min(2 * self._next_s, self._most_s)
        return pause_s

    def begin_anew(self) -> None:
        self._next_s = self._first_s
