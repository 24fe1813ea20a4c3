"""One who follows a rig as JSON lines: what the pipeline says as it comes, and a mark when the connection changes.

Used on the event loop's thread. Bounded: who reads too slowly loses the oldest lines, and is told how many.
"""

import asyncio
from collections import deque

from server.live.lines import lines_of, mark_line
from server.live.records import BoardClock, Connection, ConnectionState
from server.live.view import View
from server.pipeline import Output

LINES_MAX = 5000  # about ten minutes of one rig
LOOK_S = 0.5  # how often silence is looked at

_WORDS = {
    ConnectionState.NO_BOARD: "There is no board",
    ConnectionState.CONNECTING: "The board is being asked what it measures",
    ConnectionState.LIVE: "Samples came again",
    ConnectionState.STALE: "Samples have stopped: what was read last is stale",
    ConnectionState.TOO_OLD: "Samples have stopped: what was read last is too old to be shown",
    ConnectionState.DISCONNECTED: "The wire was lost",
    ConnectionState.REFUSED: "The port or its board was refused",
}
_BY_AGE = (ConnectionState.LIVE, ConnectionState.STALE, ConnectionState.TOO_OLD)  # nobody said since when


class Follower:
    """Follows a view from now on until `close`."""

    def __init__(self, view: View) -> None:
        self._view = view
        self._lines: deque[str] = deque(maxlen=LINES_MAX)
        self._lost = 0
        self._come = asyncio.Event()
        self._told = ConnectionState.LIVE
        view.followers.add(self._take)

    def close(self) -> None:
        """End it."""
        self._view.followers.discard(self._take)

    async def next(self, service_utc_s: float) -> str:
        """What has come since the last call, whole lines; empty if nothing came for LOOK_S."""
        if not self._lines:
            self._come.clear()
            try:
                async with asyncio.timeout(LOOK_S):
                    await self._come.wait()
            except TimeoutError:
                pass
        text = f"{self._marks(service_utc_s)}{''.join(self._lines)}"
        self._lines.clear()
        return text

    def _take(self, output: Output, clock: BoardClock) -> None:
        for line in lines_of(output, clock):
            self._lost += len(self._lines) == LINES_MAX
            self._lines.append(line)
        if self._lines:
            self._come.set()

    def _marks(self, service_utc_s: float) -> str:
        now_utc_s = self._view.time.of(service_utc_s)
        lost, self._lost = self._lost, 0
        marks = [mark_line(f"{lost} lines were lost: they were read too slowly", now_utc_s)] if lost else []
        connection = self._view.connected(service_utc_s)
        if connection.state is not self._told:
            self._told = connection.state
            by_age = connection.state in _BY_AGE
            utc_s = now_utc_s if by_age or connection.since_utc_s is None else connection.since_utc_s
            marks.append(mark_line(_sentence(connection), utc_s))
        return "".join(marks)


def _sentence(connection: Connection) -> str:
    said = f"{connection.text}. {connection.detail}".strip(". ")
    return f"{_WORDS[connection.state]}: {said}" if said else _WORDS[connection.state]
