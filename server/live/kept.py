"""Pictures that are kept: samples that were cut out of the rings with what is needed to draw and measure them.

Pure. In memory only, and bounded by number and by bytes: what is kept longest goes first.
"""

from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass, field

from server.live.cut import Cut
from server.live.ring import Ring
from server.motors import MotorType
from server.readings import Reading

KEPT_MAX = 8  # on purpose
HELD_MAX = 8  # by pages that hold their picture
BYTES_MAX = 64_000_000  # of all of one rig; two seconds of four channels at 10 kS/s are 400 kB
_MARGIN_S = 0.002  # on each side, and so many samples: delays of channels move their samples
_MARGIN_SAMPLES = 4


@dataclass(frozen=True, slots=True, eq=False)
class Kept:
    """`number` is its name. `why`: held, start or crossing; `text`: in words. Times are board time but for
    `start_utc_s`, the moment of `start_s`; `moment_s`: what it was kept for."""

    number: int
    why: str
    text: str
    start_s: float
    end_s: float
    moment_s: float
    start_utc_s: float
    cuts: tuple[Cut, ...]
    motor: MotorType | None = None
    frequency: Reading | None = None

    @property
    def bytes(self) -> int:
        return sum(cut.bytes for cut in self.cuts)

    def record(self) -> dict[str, object]:
        """One of `keeping.kept` of SOCKET.md; seconds from its beginning."""
        return {
            "number": self.number,
            "why": self.why,
            "text": self.text,
            "start_utc_s": self.start_utc_s,
            "span_s": self.end_s - self.start_s,
            "moment_s": self.moment_s - self.start_s,
        }


def cuts_of(rings: Iterable[Ring], from_s: float, to_s: float) -> tuple[Cut, ...]:
    """Of every ring, what it holds of the stretch and a little on each side."""
    found = []
    for ring in rings:
        margin_s = _MARGIN_S + _MARGIN_SAMPLES / ring.rate_hz
        found.append(ring.cut(from_s - margin_s, to_s + margin_s))
    return tuple(cut for cut in found if cut is not None)


@dataclass
class Shelf:
    """The newest ones by number. Numbers are never used again while it lives."""

    kept: deque[Kept] = field(default_factory=lambda: deque(maxlen=KEPT_MAX))
    held: deque[Kept] = field(default_factory=lambda: deque(maxlen=HELD_MAX))
    last: int = 0

    def put(self, kept: Kept) -> None:
        (self.held if kept.why == "held" else self.kept).append(kept)
        self.last = max(self.last, kept.number)
        while self.bytes > BYTES_MAX and len(self.kept) + len(self.held) > 1:
            (self.held or self.kept).popleft()

    def get(self, number: int) -> Kept | None:
        return next((each for each in (*self.kept, *self.held) if each.number == number), None)

    def drop(self, number: int) -> bool:
        """Forget one; whether it was there."""
        found = self.get(number)
        if found is not None:
            (self.held if found in self.held else self.kept).remove(found)
        return found is not None

    @property
    def bytes(self) -> int:
        return sum(each.bytes for each in (*self.kept, *self.held))
