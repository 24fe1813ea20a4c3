"""What the Hall ring shows: states as they came, how often each, and where Hall A rose. Pure and bounded."""

from collections import deque

import numpy as np
from numpy.typing import NDArray

from firmware_protocol import InputKind
from server.hall.table import FORWARD, SECTOR_1_BEGINS_DEG, SECTOR_DEG, sectors
from server.live.latest import Latest
from server.samples import EdgeTrain, Input

STATES_A_TURN = 6
_DIRECTIONS = {"forward": 1, "backward": -1, "standing": 0}
_VALID = {"right": True, "wrong": False}
RISES_KEPT = 64  # more than the turns of a picture: edges may come before the samples of the same moment


class HallRing:
    """Three Hall inputs of a board, A first; state = 4 C + 2 B + A."""

    def __init__(self, inputs: tuple[Input, ...]) -> None:
        self.inputs = inputs
        halls = sorted((one for one in inputs if one.kind is InputKind.HALL), key=lambda one: one.index)
        self._bits = [one.bit for one in halls[:3]]
        self.state: int | None = None
        self.counts = [0] * 8
        self.seen: deque[int] = deque(maxlen=STATES_A_TURN)
        self._rises: deque[float] = deque(maxlen=RISES_KEPT)

    @property
    def present(self) -> bool:
        return len(self._bits) == 3

    @property
    def rises_s(self) -> NDArray[np.float64]:
        """Board times at which Hall A rose, shape (edges,)."""
        return np.array(self._rises, dtype=np.float64)

    def take(self, edges: EdgeTrain) -> None:
        """Add the new edges of one push. Levels before the first edge count where they tell something new."""
        if not self.present:
            return
        before = self.state if edges.before is None else self._hall(np.array([edges.before], dtype=np.uint8))[0]
        if edges.before is not None and self.state != before:
            self._enter(np.array([before]))
        states = self._hall(edges.states)
        earlier = np.concatenate(([-1 if before is None else before], states[:-1]))
        entered = np.flatnonzero(states != earlier)  # an edge of another input enters no state
        self._enter(states[entered])
        rose = entered[(states[entered] & 1 == 1) & (earlier[entered] >= 0) & (earlier[entered] & 1 == 0)]
        self._rises.extend((edges.ticks[rose] / edges.tick_hz).tolist())

    def record(self, latest: Latest, spacing_deg: int) -> dict[str, object] | None:
        """The `hall` of SOCKET.md; None without three Hall inputs."""
        if not self.present:
            return None
        spacing_deg = spacing_deg if spacing_deg in FORWARD else 120  # a plate may say anything until it is checked
        sector = None if self.state is None else int(sectors(spacing_deg)[self.state]) or None
        return {
            "state": self.state,
            "sector": sector,
            "electrical_deg": None if sector is None else _angle(sector, latest),
            "direction": _DIRECTIONS.get(latest.word("direction")),
            "valid": _VALID.get(latest.word("commutation_valid")),
            "seen": _turned(list(self.seen), FORWARD[spacing_deg][0]),
            "right": list(FORWARD[spacing_deg]),
            "counts": self.counts,
        }

    def _hall(self, states: NDArray[np.uint8]) -> NDArray[np.int64]:
        levels = [(states.astype(np.int64) >> bit & 1) << place for place, bit in enumerate(self._bits)]
        return np.asarray(sum(levels), dtype=np.int64)

    def _enter(self, states: NDArray[np.int64]) -> None:
        if not states.size:
            return
        self.state = int(states[-1])
        self.seen.extend(states[-STATES_A_TURN:].tolist())
        self.counts = [
            old + new for old, new in zip(self.counts, np.bincount(states, minlength=8).tolist(), strict=True)
        ]


def _turned(seen: list[int], first: int) -> list[int]:
    """A whole turn of different states, told from the first of the right order on: it then reads the same each time."""
    if len(seen) < STATES_A_TURN or len(set(seen)) < STATES_A_TURN or first not in seen:
        return seen
    start = seen.index(first)
    return seen[start:] + seen[:start]


def _angle(sector: int, latest: Latest) -> float:
    """The angle that was read, or the middle of the sector where the shaft has gone on since."""
    begins_deg = SECTOR_1_BEGINS_DEG + SECTOR_DEG * (sector - 1)
    read_deg = latest.number("electrical_deg")
    if read_deg is not None and (read_deg - begins_deg) % 360 <= SECTOR_DEG:
        return read_deg
    return (begins_deg + SECTOR_DEG / 2) % 360
