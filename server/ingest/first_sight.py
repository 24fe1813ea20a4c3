"""What the first bytes on a line say: a board of ours, another version of it, something else, or nothing.

Pure: bytes and times are arguments. Ends as soon as the board's description is complete; the pipeline decodes for
itself from the first byte on.
"""

from dataclasses import dataclass, field
from math import ceil

from firmware_protocol import (
    PROTOCOL_MAJOR,
    PROTOCOL_MINOR,
    ChannelDescription,
    Damage,
    Decoder,
    Describe,
    Identity,
    InputDescription,
    understands,
    version_to_ask,
)
from firmware_protocol.rate import bits_per_s_needed, wire_bytes_per_s
from server.stream.describing import Describer, Description

PATIENCE_S = 3.0  # without a good frame for so long, what is on the line is not ours
KEPT = 64  # first bytes kept to show
_OTHER_PORT = "Choose the board's port, or set its baud rate; a wrong rate looks like this too."


@dataclass(frozen=True, slots=True)
class Sight:
    """`state` is `connecting`, `live` or `refused`; `text` says what is the matter, `detail` what to do."""

    state: str
    text: str = ""
    detail: str = ""


@dataclass(slots=True)
class FirstSight:
    """Feed it every chunk from the moment the line was opened (`opened_s`, any clock).

    `bytes_per_s` is what the line carries, None where nothing limits it.
    """

    opened_s: float
    bytes_per_s: float | None = None
    bytes_seen: int = 0
    identity: Identity | None = None
    description: Description | None = None  # once it is complete
    _heard_s: float | None = None  # when the first byte came
    _first: bytes = b""
    _boot: int = -1  # of the newest frame
    _describer: Describer = field(default_factory=Describer)
    _decoder: Decoder = field(default_factory=lambda: Decoder(from_board=True))

    def feed(self, chunk: bytes, now_s: float | None = None) -> None:
        """`now_s`: of the same clock; None: when the line was opened."""
        if chunk and not self.bytes_seen:  # a board that is switched on later may begin with half a frame
            self._heard_s = self.opened_s if now_s is None else now_s
        self.bytes_seen += len(chunk)
        self._first = (self._first + chunk)[:KEPT]
        for found in self._decoder.feed(chunk):
            if isinstance(found, Damage):
                continue
            if found.boot != self._boot:
                self._boot = found.boot
                self._describer.started()
            message = found.message
            if isinstance(message, Identity):
                self.identity = message
            if isinstance(message, Identity | ChannelDescription | InputDescription):
                self.description = self._describer.take(message)

    def asking(self) -> Describe:
        """In the version in which this board describes itself, as far as it has said."""
        who = self.identity
        return Describe() if who is None else Describe(*version_to_ask(who.major, who.minor))

    def seen(self) -> str:
        """What came, for a person: how much, and how it looks."""
        good = self._decoder.good_frames
        frames = f"{good} good frames" if good else "no good frame"
        return f"{self.bytes_seen} bytes with {frames}, {shown_bytes(self._first)}"

    def _too_slow(self) -> Sight | None:
        if self.bytes_per_s is None or self.description is None:
            return None
        said = self.description
        needed = wire_bytes_per_s(said.identity, list(said.channels), list(said.inputs))
        if needed <= self.bytes_per_s:
            return None
        text = (
            f"The line is too slow for this board: it sends {needed / 1000:.1f} kB/s, "
            f"the line carries {self.bytes_per_s / 1000:.1f} kB/s"
        )
        baud = ceil(bits_per_s_needed(needed))
        return Sight("refused", text, f"Set board and rig to {baud} baud or more, or let the board send less.")

    @property
    def described(self) -> bool:
        """All that the identity promised has come, in a version that is understood."""
        return self.description is not None and _version_refused(self.description.identity) is None

    def judge(self, now_s: float) -> Sight:
        if self.identity is not None and (other := _version_refused(self.identity)):
            return other
        if self.described:
            return self._too_slow() or Sight("live")
        if now_s - (self.opened_s if self._heard_s is None else self._heard_s) < PATIENCE_S:
            return Sight("connecting", "Asking the board what it measures")
        if self._decoder.good_frames:
            text = "Frames come, but the board's description is not complete"
            return Sight(
                "connecting", text, "It is asked again every second. If this stays, switch the board off and on."
            )
        if self.bytes_seen:
            return Sight("refused", f"This is not a Slipring board: it sends {shown_bytes(self._first)}", _OTHER_PORT)
        text = "The port is open, but not one byte has come"
        return Sight(
            "connecting", text, "Check that the board has power and that this is its port; it is asked every second."
        )


def _version_refused(who: Identity) -> Sight | None:
    if understands(who.major, who.minor):
        return None
    text = (
        f"The board speaks version {who.major}.{who.minor} of the protocol, "
        f"this Slipring speaks {PROTOCOL_MAJOR}.{PROTOCOL_MINOR}"
    )
    older = (who.major, who.minor) < (PROTOCOL_MAJOR, PROTOCOL_MINOR)
    return Sight("refused", text, "Put newer firmware on the board." if older else "Install a newer Slipring.")


def shown_bytes(first: bytes) -> str:
    """What the bytes look like to a person: lines of text if they are that, else the first ones in hex."""
    readable = sum(32 <= byte < 127 or byte in b"\r\n\t" for byte in first)
    if first and readable >= 0.95 * len(first):
        lines = [line.strip() for line in first.decode("ascii", "replace").splitlines() if line.strip()]
        if lines:
            line = lines[1] if len(lines) > 2 else lines[0]  # the first one may be cut
            return f'text lines such as "{line[:40]}"'
    return f"bytes beginning {first[:16].hex(' ')}"
