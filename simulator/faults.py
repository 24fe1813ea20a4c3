"""Damage on the way from board to PC: named faults drawn from a seed, and the truth about each of them.

Bytes in, bytes out, in any cut: what comes out depends on seed, rates and bytes alone. Expects the undamaged stream of
a board. Knows frames; no motor, no port, no clock.
"""

from dataclasses import dataclass
from random import Random

from simulator.restart import Restarts

FAULTS = (
    "lost_bytes",  # a few bytes inside a frame are missing
    "lost_frames",  # a frame is missing
    "flipped",  # one to three bits inside a frame are changed
    "doubled",  # a frame comes twice
    "merged",  # the delimiter is missing: two frames become one
    "cut_off",  # a frame ends early
    "late",  # this and some following frames are held back, then come in one lump: no byte is changed
    "rubbish",  # bytes that are no frame come before it
    "reset",  # the board starts anew in the middle of the frame
    "clock_step",  # from the next frame on the board's clock is later by up to a second: no frame is harmed
)
SPOILING = frozenset(("lost_bytes", "lost_frames", "flipped", "merged", "cut_off", "reset"))

_LATE_FRAMES = (5, 50)
_RUBBISH_BYTES = (1, 40)
_CLOCK_STEP_S = (0.001, 1.0)


@dataclass(frozen=True, slots=True)
class Touched:
    """One fault: the bytes of the undamaged stream that it touched. `spoiled`: their frames do not arrive whole."""

    kind: str
    offset: int
    length: int
    spoiled: bool


class Faults:
    """`rates` are chances by kind that a frame is struck, as in `Faults(7, flipped=0.01, late=0.001)`.

    At most one fault strikes a frame. `touched` is the truth, in the order of the stream.
    ValueError: a kind that is not in FAULTS, or rates that are no chances or add up to more than 1.
    """

    def __init__(self, seed: int, **rates: float) -> None:
        self.touched: list[Touched] = []
        self.change(**rates)
        self._draw = Random(seed)
        self._spared = 0
        self._restarts = Restarts()
        self._offset = 0  # of the next frame in the undamaged stream
        self._partial = b""
        self._before = b""  # a frame whose delimiter got lost: it goes out with the next one
        self._before_offset = 0
        self._held: list[bytes] = []
        self._held_frames = 0  # how many more frames are held back

    def change(self, **rates: float) -> None:
        """From the next frame on these are the chances. ValueError as above."""
        unknown = sorted(set(rates) - set(FAULTS))
        if unknown:
            raise ValueError(f"no fault is called {unknown[0]}; there are {', '.join(FAULTS)}")
        if min(rates.values(), default=0.0) < 0.0 or not sum(rates.values()) <= 1.0:
            raise ValueError("rates are chances: none below 0, together at most 1")
        self._rates = [(kind, rates[kind]) for kind in FAULTS if kind in rates]

    def spare(self, frames: int) -> None:
        """The next so many frames pass whole: a description, for example."""
        self._spared = frames

    def apply(self, data: bytes) -> bytes:
        """The next bytes of the damaged stream. A frame comes out when its delimiter has gone in."""
        *frames, self._partial = (self._partial + data).split(b"\0")
        return b"".join(self._passed(frame + b"\0") for frame in frames)

    def rest(self) -> bytes:
        """At the end of the stream: what is still held back, and what has no delimiter yet."""
        rest = b"".join([*self._held, self._before, self._partial])
        self._held, self._held_frames, self._before, self._partial = [], 0, b"", b""
        return rest

    def _passed(self, frame: bytes) -> bytes:
        """What leaves when this frame comes in: held back, released, or at once."""
        held = self._held_frames > 0
        out = self._struck(frame)
        if not held and not self._held_frames:
            return out
        self._held.append(out)
        self._held_frames -= held
        if self._held_frames:
            return b""
        lump, self._held = b"".join(self._held), []
        return lump

    def _struck(self, frame: bytes) -> bytes:
        offset, self._offset = self._offset, self._offset + len(frame)
        kind = self._drawn()
        sent = self._restarts.rewritten(frame)
        if self._before:
            return self._merged(sent)
        if not sent:  # measured before the board started anew
            self.touched.append(Touched("reset", offset, len(frame), True))
        if kind is None or len(sent) < 3 or (kind == "late" and self._held_frames):
            return sent
        if kind == "merged":  # the truth of it is known when the next frame has come
            self._before, self._before_offset = sent[:-1], offset
            return b""
        self.touched.append(Touched(kind, offset, len(frame), kind in SPOILING))
        return self._damaged(kind, sent)

    def _merged(self, frame: bytes) -> bytes:
        """The frame before lost its delimiter, so this one is lost with it and no other fault strikes it."""
        if not frame:
            return b""
        before, self._before = self._before, b""
        self.touched.append(Touched("merged", self._before_offset, self._offset - self._before_offset, True))
        return before + frame

    def _drawn(self) -> str | None:
        if self._spared:
            self._spared -= 1
            return None
        chance = self._draw.random()
        for kind, rate in self._rates:
            chance -= rate
            if chance < 0.0:
                return kind
        return None

    def _damaged(self, kind: str, frame: bytes) -> bytes:
        draw, body = self._draw, frame[:-1]
        match kind:
            case "lost_bytes":
                at = draw.randrange(len(body))
                return body[:at] + body[at + draw.randint(1, 8) :] + b"\0"
            case "lost_frames":
                return b""
            case "flipped":
                spoilt = bytearray(body)
                for bit in draw.sample(range(8 * len(body)), draw.randint(1, 3)):
                    spoilt[bit // 8] ^= 1 << bit % 8
                return bytes(spoilt) + b"\0"
            case "doubled":
                return frame + frame
            case "cut_off":
                return body[: draw.randrange(1, len(body))] + b"\0"
            case "late":
                self._held_frames = draw.randint(*_LATE_FRAMES)
                return frame
            case "rubbish":
                return draw.randbytes(draw.randint(*_RUBBISH_BYTES)) + b"\0" + frame
            case "clock_step":
                self._restarts.step_clock(draw.uniform(*_CLOCK_STEP_S))
                return frame
            case _:
                return body[: draw.randrange(1, len(body))] + self._restarts.restart()
