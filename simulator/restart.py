"""A board that starts anew in the middle of its stream: what follows, rewritten as the next start would have sent it.

Ticks, sample numbers and everything counted begin again, the sequence begins at 0, the boot number is one more, and
the description comes first. Knows frames and messages; no motor, no port, no clock. Frames that are not whole are
passed on as they are.
"""

from dataclasses import replace
from typing import TypeAlias

from firmware_protocol import (
    ChannelDescription,
    ClockReply,
    Counters,
    Edges,
    FrameError,
    Identity,
    InputDescription,
    Message,
    SampleBlock,
    Samples,
    Singles,
    Status,
    decode_frame,
    encode_frame,
)

_Place: TypeAlias = tuple[type, int]  # a kind of counter and which one of its kind
_MODULUS = 1 << 32


class Restarts:
    """Feed it the frames of a board in turn; `restart` begins the next start, `rewritten` says what it sends."""

    def __init__(self) -> None:
        self._starts = 0
        self._sequence = 0
        self._tick = 0  # of the newest message; what the next start calls 0
        self._zero_tick = 0
        self._boot = 0
        self._description: dict[_Place, Message] = {}
        self._counted: dict[_Place, int] = {}  # counters that show a sum, as they stood when the board started
        self._newest: dict[_Place, int] = {}
        self._first: dict[_Place, int] = {}  # numbers that the first frame of this start had
        self._stepped = False

    def restart(self) -> bytes:
        """What a board sends first after it started anew: a delimiter, and its description."""
        self._starts += 1
        self._sequence = 0
        self._zero_tick = self._tick
        self._counted = dict(self._newest)
        self._first.clear()
        return b"\0" + b"".join(self._sent(message) for message in self._description.values())

    def step_clock(self, seconds: float) -> None:
        """From the next frame on the board's ticks are later by so much, and nothing else has changed."""
        identity = self._description.get((Identity, 0))
        if isinstance(identity, Identity):  # before it nobody could tell
            self._zero_tick -= round(seconds * identity.tick_hz)
            self._stepped = True

    def rewritten(self, frame: bytes) -> bytes:
        """The frame as this start of the board sends it; nothing for what was measured before it began."""
        try:
            opened = decode_frame(frame[:-1])
            message = opened.message()
        except FrameError:
            return frame
        if message is None:
            return frame
        if not self._starts:
            self._boot = opened.boot
        if not (self._starts or self._stepped):
            self._sequence = opened.sequence + 1
        anew = self._renumbered(message)
        self._remember(message)
        if not (self._starts or self._stepped):
            return frame
        return b"" if anew is None else self._sent(anew)

    def _sent(self, message: Message) -> bytes:
        if isinstance(message, Identity):
            message = replace(message, boot=message.boot + self._starts)
        frame = encode_frame(message, sequence=self._sequence, boot=self._boot + self._starts)
        self._sequence += 1
        return frame

    def _remember(self, message: Message) -> None:
        match message:
            case Identity():
                self._description[Identity, 0] = message
            case ChannelDescription(index=index) | InputDescription(index=index):
                self._description[type(message), index] = message
            case Status():
                self._tick = max(self._tick, message.tick)
                for number, sum_now in enumerate((message.dropped_blocks, message.overruns, message.lost_edges)):
                    self._newest[Status, number] = sum_now
            case Counters():
                for count in message.counts:
                    self._newest[Counters, count.input] = count.count
            case SampleBlock():
                self._tick = max(self._tick, message.tick)
            case Edges():
                self._tick = max(self._tick, message.ticks[-1])
            case _:
                pass

    def _renumbered(self, message: Message) -> Message | None:
        """The message with ticks and numbers of this start; None if it is older than it."""
        match message:
            case SampleBlock():
                if message.tick < self._zero_tick:
                    return None
                number = self._from_first((Samples, message.group), message.first_sample)
                return replace(message, first_sample=number, tick=message.tick - self._zero_tick)
            case Singles():
                if min(single.tick for single in message.singles) < self._zero_tick:
                    return None
                return Singles(
                    tuple(
                        replace(
                            single,
                            number=self._from_first((Singles, single.channel), single.number),
                            tick=single.tick - self._zero_tick,
                        )
                        for single in message.singles
                    )
                )
            case Edges():
                if message.ticks[0] < self._zero_tick:
                    return None
                ticks = tuple(tick - self._zero_tick for tick in message.ticks)
                return replace(message, first_edge=self._from_first((Edges, 0), message.first_edge), ticks=ticks)
            case Counters():
                return Counters(
                    tuple(
                        replace(
                            count,
                            count=self._since((Counters, count.input), count.count),
                            tick=max(0, count.tick - self._zero_tick),
                        )
                        for count in message.counts
                    )
                )
            case Status():
                return replace(
                    message,
                    tick=max(0, message.tick - self._zero_tick),
                    dropped_blocks=self._since((Status, 0), message.dropped_blocks),
                    overruns=self._since((Status, 1), message.overruns),
                    lost_edges=self._since((Status, 2), message.lost_edges),
                )
            case ClockReply():
                received = max(0, message.received_tick - self._zero_tick)
                return replace(message, received_tick=received, sent_tick=max(0, message.sent_tick - self._zero_tick))
            case _:
                return message

    def _from_first(self, place: _Place, number: int) -> int:
        return number - self._first.setdefault(place, number) if self._starts else number

    def _since(self, place: _Place, counted: int) -> int:
        return (counted - self._counted.get(place, 0)) % _MODULUS
