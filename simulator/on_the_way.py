"""From the board to its line: damage on the way, as asked for or as the story says, and the truth written beside it."""

import json
from collections.abc import Callable, Mapping
from typing import TextIO

from simulator.board import Board
from simulator.faults import FAULTS, Faults
from simulator.nearest import instead


def damage_of(text: str) -> dict[str, float]:
    """KIND=CHANCE,... as rates. ValueError: a kind that there is not, or what is no chance."""
    rates: dict[str, float] = {}
    for part in text.split(","):
        kind, _, chance = part.partition("=")
        if kind not in FAULTS:
            raise ValueError(f"no damage is called {kind!r}; {instead(kind, FAULTS)}")
        if kind in rates:
            raise ValueError(f"{kind} stands there twice; leave one")
        try:
            rates[kind] = float(chance)
        except ValueError:
            raise ValueError(f"{part}: write {kind}=0.01, the chance that a frame is struck") from None
    Faults(0, **rates)
    return rates


class OnTheWay:
    """`rates` says what the damage is now; it is asked whenever the board has sent something."""

    def __init__(
        self, board: Board, seed: int, rates: Callable[[], Mapping[str, float]], truth: TextIO | None = None
    ) -> None:
        self._board, self._rates, self._truth = board, rates, truth
        self._faults = Faults(seed)
        self._written = 0  # of what was touched

    def passed(self, data: bytes) -> bytes:
        """What the line gets of these bytes of the board, sent up to now."""
        self._faults.change(**self._rates())
        out = self._faults.apply(data)
        self._write()
        return out

    def rest(self) -> bytes:
        """At the end: what was still held back."""
        return self._faults.rest()

    def _write(self) -> None:
        if self._truth is None:
            return
        for row in self._board.take_truth():
            self._line(row.board_s, row.kind, row.values)
        for one in self._faults.touched[self._written :]:
            values = {"damage": one.kind, "offset": one.offset, "length": one.length, "spoiled": one.spoiled}
            self._line(self._board.tick / self._board.tick_hz, "damage", values)
        self._written = len(self._faults.touched)
        self._truth.flush()

    def _line(self, board_s: float, kind: str, values: Mapping[str, object]) -> None:
        assert self._truth is not None
        self._truth.write(json.dumps({"board_s": round(board_s, 6), "kind": kind, **values}) + "\n")
