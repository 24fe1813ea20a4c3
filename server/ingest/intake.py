"""What comes in from a port, on the event loop: bytes with their arrival time and how the port is, in order.

Whatever hangs at the port, the loop stays free: bytes come in pieces, pieces in turns, and a port that always has more
than can be worked off is told so once.
"""

import asyncio
from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

from server.ingest.inbox import Inbox
from server.ingest.port import Port
from server.ingest.report import PortReport

PIECE = 1024  # bytes taken at once: even the costliest are half a second of work, honest ones less than a millisecond
BEHIND_S_MAX = 10.0  # a busy moment of the PC is over by then


@dataclass(frozen=True, slots=True)
class Chunk:
    """Bytes that had arrived at `arrival_s`, UTC."""

    data: bytes
    arrival_s: float


_Thing: TypeAlias = Chunk | PortReport


class Intake:
    """An open port. All callbacks come on the loop's thread; `on_flood` when it cannot be kept up with."""

    def __init__(
        self,
        url: str,
        baud: int,
        utc_s: Callable[[], float],
        on_chunk: Callable[[bytes, float], None],
        on_report: Callable[[PortReport], None],
        on_flood: Callable[[], None],
    ) -> None:
        self._on_chunk, self._on_report, self._on_flood = on_chunk, on_report, on_flood
        self._flooded = False
        self._inbox: Inbox[_Thing] = Inbox(asyncio.get_running_loop(), self._take)
        self._port = Port(url, baud, utc_s, self._hand_over, self._inbox.put)
        self._port.start()

    def ask(self) -> None:
        """Ask the board who it is, and to send."""
        self._port.ask()

    async def close(self) -> list[Chunk]:
        """Close the port, take what it has handed over; the bytes that there was no time for."""
        await asyncio.to_thread(self._port.stop)  # its thread may be waiting for a line
        return [thing for thing in self._inbox.close() if isinstance(thing, Chunk)]

    def _hand_over(self, data: bytes, arrival_s: float) -> None:
        for at in range(0, len(data), PIECE):
            piece = data[at : at + PIECE]
            self._inbox.put(Chunk(piece, arrival_s), len(piece))

    def _take(self, thing: _Thing) -> None:
        if isinstance(thing, PortReport):
            self._on_report(thing)
            return
        self._on_chunk(thing.data, thing.arrival_s)
        if self._inbox.behind_s > BEHIND_S_MAX and not self._flooded:
            self._flooded = True
            self._on_flood()
