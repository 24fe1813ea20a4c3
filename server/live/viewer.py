"""One viewer: a mailbox of one, newest wins, and what the page has said it drew. Used on the event loop's thread."""

import asyncio
from collections import deque
from dataclasses import dataclass

ON_THE_WAY_MAX = 2  # pictures sent and not drawn yet: one being drawn, one in the wire
DEAD_S = 30.0


class RubbishError(ValueError):
    """The viewer said what no page says."""


@dataclass(frozen=True, slots=True)
class Mail:
    """A packed picture, its number, and the strip in it (None: none)."""

    number: int
    packed: bytes
    strip: int | None


class Viewer:
    """Belongs to the hub, which fills it; the socket awaits `next` and passes on what the page says."""

    def __init__(self, rig: str) -> None:
        self.rig = rig
        self.strip_seen: int | None = None  # the strip that the page has, or has on the way
        self.pictures_sent = 0
        self.pictures_dropped = 0
        self._mail: Mail | None = None
        self._on_the_way: deque[int] = deque()
        self._newest_sent = 0
        self._since_s = 0.0  # since when the oldest picture on the way waits to be drawn
        self._waiting: asyncio.Future[None] | None = None
        self.gone = asyncio.Event()

    @property
    def ready(self) -> bool:
        """Whether a new picture would be taken."""
        return self._mail is not None or len(self._on_the_way) < ON_THE_WAY_MAX

    def offer(self, mail: Mail, now_s: float) -> None:
        """Put a picture into the mailbox; one that is still there is dropped."""
        if self._mail is not None:
            if self._mail.strip is not None and mail.strip is None:
                raise ValueError("a picture without the strip must not take the place of one with it")
            self.pictures_dropped += 1
            self._on_the_way.pop()
        elif not self._on_the_way:
            self._since_s = now_s
        self._on_the_way.append(mail.number)
        self._mail = mail
        if mail.strip is not None:
            self.strip_seen = mail.strip
        self._wake()

    def wants_strip(self, newest: int) -> bool:
        """Whether the next picture must bring the strip: a newer one, or the one that has not left yet."""
        waiting = self._mail is not None and self._mail.strip is not None
        return waiting or self.strip_seen != newest

    def passed_over(self) -> None:
        """A picture was made that this viewer could not take."""
        self.pictures_dropped += 1

    async def next(self) -> bytes:
        """The newest picture, as soon as there is one."""
        while self._mail is None:
            self._waiting = asyncio.get_running_loop().create_future()
            await self._waiting
        mail, self._mail = self._mail, None
        self._newest_sent = mail.number
        self.pictures_sent += 1
        return mail.packed

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

    def is_dead(self, now_s: float) -> bool:
        """Whether pictures have waited too long to be drawn."""
        return bool(self._on_the_way) and now_s - self._since_s > DEAD_S

    def give_up(self) -> None:
        """No picture will come any more; the socket is to be dropped."""
        self._mail = None
        self.gone.set()

    def _wake(self) -> None:
        if self._waiting is not None and not self._waiting.done():
            self._waiting.set_result(None)
