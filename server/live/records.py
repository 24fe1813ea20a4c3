"""What a rig tells its view beside the pipeline's output. Records only; SOCKET.md says how they look on the wire."""

from dataclasses import dataclass, field
from enum import StrEnum
from pathlib import Path
from typing import Protocol

from server.config import ConfigError, Plate

TIME_DIGITS = 6  # of a second: a time made from ticks is told to a microsecond


class BoardClock(Protocol):
    """Board time to UTC, as far as it is known now."""

    @property
    def uncertainty_s(self) -> float | None:
        """Half width of what `utc_s` may be off by; None while the board's clock is not synchronised."""

    @property
    def drift_ppm(self) -> float | None:
        """How much faster than the service's clock the board's runs; None while not known."""

    def utc_s(self, board_s: float) -> float:
        """UTC of a board time, both in seconds."""


class ConnectionState(StrEnum):
    """Where the chain from motor to service ends. The view decides `stale` and `too_old` by age.

    `refused`: what is on the port cannot be used; `settings_refused`: the rig's settings file cannot, so no port is
    opened; `ended`: the software board of a demo rig has ended; `no_rig`: a viewer asked for one that is not there.
    """

    NO_BOARD = "no_board"
    CONNECTING = "connecting"
    LIVE = "live"
    STALE = "stale"
    TOO_OLD = "too_old"
    DISCONNECTED = "disconnected"
    REFUSED = "refused"
    SETTINGS_REFUSED = "settings_refused"
    ENDED = "ended"
    NO_RIG = "no_rig"

    @property
    def is_bad(self) -> bool:
        """A person must do something."""
        return self not in (ConnectionState.CONNECTING, ConnectionState.LIVE)


@dataclass(frozen=True, slots=True)
class Connection:
    """`text` says what is the matter, `detail` what to do; `retry_s` is the time to the next try where there is one.

    `file`: full path of the settings file that is refused, or empty.
    """

    state: ConnectionState = ConnectionState.NO_BOARD
    text: str = ""
    detail: str = ""
    since_utc_s: float | None = None
    port: str = ""
    retry_s: float | None = None
    file: str = ""


def settings_refused(error: ConfigError) -> Connection:
    """How it is where a rig's settings file cannot be used."""
    short = ConfigError(Path(error.file).name, error.line, error.what, error.instead)
    detail = "Correct the file; it is then read again by itself." if error.line else ""
    return Connection(ConnectionState.SETTINGS_REFUSED, str(short), detail, file=error.file)


class RecordingState(StrEnum):
    """What becomes of the bytes."""

    NONE = "none"
    RECORDING = "recording"
    GAP = "gap"
    CLOSED = "closed"
    FAILED = "failed"


@dataclass(frozen=True, slots=True)
class Recording:
    """The run that is being recorded; `reason` says why it is not, where it is not.

    `gaps_s`: how long in all its board or this service was gone, without the gap that is now. `free_bytes`: where no
    samples are written, as the disk is nearly full; `room_s`: for how long there is room, None: not known.
    `lost_utc_s`: since when samples are lost, as memory holds no more of what is not written; None: none are.
    """

    state: RecordingState = RecordingState.NONE
    since_utc_s: float | None = None
    gap_since_utc_s: float | None = None
    run: str = ""
    reason: str = ""
    gaps_s: float = 0.0
    free_bytes: int | None = None
    room_s: float | None = None
    lost_utc_s: float | None = None


@dataclass(frozen=True, slots=True)
class Shown:
    """The motor as the page names it, and who said so: `plate_source` is "board", "settings" or "" (nobody)."""

    name: str = ""
    type: str = ""
    plate: Plate = field(default_factory=Plate)
    plate_source: str = ""


@dataclass(frozen=True, slots=True)
class Playing:
    """A recorded run that is played: nothing of it is now. `state`: playing, paused, seeking or ended.

    `pace`: seconds of the run in one of ours; `jumps`: how often it went to another place, so that a viewer knows that
    what it has drawn belongs to the place before. `calibration`: "then" (that of the run), "today" or "none";
    `calibrated`: it says something of a channel of the board. `reached`: the pace at which it goes where this PC cannot
    keep the one that was asked for, else None. `sought_utc_s`: the place that it is on its way to, else None.
    """

    run: str
    rig: str
    from_utc_s: float
    to_utc_s: float
    state: str = "playing"
    pace: float = 1.0
    jumps: int = 0
    trouble: str = ""
    calibration: str = "then"
    calibrated: bool = False
    reached: float | None = None
    sought_utc_s: float | None = None
