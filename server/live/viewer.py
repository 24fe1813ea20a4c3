"""One viewer: a mailbox of one, newest wins, and what the page has said it drew. Used on the event loop's thread."""

from collections import deque
from dataclasses import dataclass
from typing import Protocol

from server.live.window import CYCLES, ZOOMS

ON_THE_WAY_MAX = 2  # pictures sent and not drawn yet: one being drawn, one in the wire
DEAD_S = 30.0


class RubbishError(ValueError):
    """The viewer said what no page says."""


class Wire(Protocol):
    """The viewer's connection."""

    def write(self, message: bytes) -> bool:
        """Send a message. False: what was sent has not left yet, and `Viewer.resumed` will be called once it has."""

    def abort(self) -> None:
        """Drop the connection at once, whatever is still to be sent."""


@dataclass(frozen=True, slots=True)
class Mail:
    """A packed picture, its number, and the strip in it (None: none)."""

    number: int
    packed: bytes
    strip: int | None


class Viewer:
    """Belongs to the hub, which offers it pictures; its socket passes on what the page says."""

    def __init__(self, rig: str, wire: Wire) -> None:
        self.rig = rig
        self.cycles = CYCLES  # so many are drawn for it
        self.strip_seen: int | None = None  # the strip that the page has, or has on the way
        self.pictures_sent = 0
        self.pictures_dropped = 0
        self._wire = wire
        self._free = True  # the wire takes another picture
        self._mail: Mail | None = None  # only while the wire does not
        self._on_the_way: deque[int] = deque()
        self._newest_sent = 0
        self._since_s = 0.0  # since when the oldest picture on the way waits to be drawn

    @property
    def ready(self) -> bool:
        """Whether a new picture would be taken."""
        return self._mail is not None or len(self._on_the_way) < ON_THE_WAY_MAX

    def offer(self, mail: Mail, now_s: float) -> None:
        """Send a picture, or put it into the mailbox while the wire is full; one that is still there is dropped."""
        if self._mail is not None:
            self.pictures_dropped += 1
            self._on_the_way.pop()
        elif not self._on_the_way:
            self._since_s = now_s
        self._on_the_way.append(mail.number)
        if mail.strip is not None:
            self.strip_seen = mail.strip
        if self._free:
            self._send(mail)
        else:
            self._mail = mail

    def wants_strip(self, newest: int) -> bool:
        """Whether the next picture must bring the strip: a newer one, or the one that has not left yet."""
        waiting = self._mail is not None and self._mail.strip is not None
        return waiting or self.strip_seen != newest

    def passed_over(self) -> None:
        """A picture was made that this viewer could not take."""
        self.pictures_dropped += 1

    def resumed(self) -> None:
        """The wire takes another picture."""
        self._free = True
        if (mail := self._mail) is not None:
            self._mail = None
            self._send(mail)

    def drawn(self, number: int, now_s: float) -> None:
        """The page has this picture on the screen; it answers for all before it too. Raises RubbishError."""
        if not 0 < number <= self._newest_sent:
            raise RubbishError(f"picture {number} was never sent")
        while self._on_the_way and self._on_the_way[0] <= number:
            self._on_the_way.popleft()
            self._since_s = now_s

    def look_at(self, rig: str) -> None:
        """Show another rig from the next picture on."""
        self.rig = rig
        self.strip_seen = None

    def zoom(self, cycles: int) -> None:
        """Draw so many cycles from the next picture on. Raises RubbishError."""
        if cycles not in ZOOMS:
            raise RubbishError(f"{cycles} cycles are none of {', '.join(map(str, ZOOMS))}")
        self.cycles = cycles

    def is_dead(self, now_s: float) -> bool:
        """Whether pictures have waited too long to be drawn."""
        return bool(self._on_the_way) and now_s - self._since_s > DEAD_S

    def give_up(self) -> None:
        """Drop the connection."""
        self._mail = None
        self._wire.abort()

    def _send(self, mail: Mail) -> None:
        self._newest_sent = mail.number
        self.pictures_sent += 1
        self._free = self._wire.write(mail.packed)
