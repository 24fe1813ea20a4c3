"""The wire of a rig, lost and back: events, and one moment for all that speak of it. Pure."""

from dataclasses import replace

from server.live.records import Connection, ConnectionState
from server.readings import Event

_KEEPS_TRYING = (ConnectionState.DISCONNECTED, ConnectionState.CONNECTING)


class Wire:
    """Told how the connection is whenever that changes."""

    def __init__(self) -> None:
        self._lost_utc_s: float | None = None
        self._back_utc_s: float | None = None  # the port is open again; whether the board answers is not known yet

    def take(self, said: Connection) -> tuple[Connection, tuple[Event, float] | None]:
        """How the connection is to be shown, and what happened and when (UTC) if something did.

        While the port is tried again the words for it may change, but not since when the wire is lost.
        """
        since_utc_s = said.since_utc_s
        if since_utc_s is None or said.state not in (*_KEEPS_TRYING, ConnectionState.LIVE):
            self._lost_utc_s = self._back_utc_s = None
        elif said.state is ConnectionState.DISCONNECTED:
            self._back_utc_s = None
            if self._lost_utc_s is not None:
                return replace(said, since_utc_s=self._lost_utc_s), None
            self._lost_utc_s = since_utc_s
            return said, (Event("wire_lost", 0.0, "The wire was lost", said.text, decisive=True), since_utc_s)
        elif self._lost_utc_s is not None:
            if self._back_utc_s is None:
                self._back_utc_s = since_utc_s
            if said.state is ConnectionState.LIVE:
                return said, self._is_back(self._lost_utc_s, self._back_utc_s)
        return said, None

    def _is_back(self, lost_utc_s: float, back_utc_s: float) -> tuple[Event, float]:
        self._lost_utc_s = self._back_utc_s = None
        text = f"The wire was back after {back_utc_s - lost_utc_s:.1f} s"
        return Event("wire_back", 0.0, text, decisive=True), back_utc_s
