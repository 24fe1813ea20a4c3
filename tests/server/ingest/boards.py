"""Boards for the tests of the port: they speak the wire on a pty or a socket, and do as they are told."""

import os
import pty
import select
import threading
import time
import tty
from collections.abc import Callable
from fractions import Fraction

from firmware_protocol import (
    ChannelDescription,
    ClockReply,
    ClockRequest,
    Damage,
    Decoder,
    Describe,
    Identity,
    Message,
    Role,
    Start,
    Status,
    encode_frame,
)
from firmware_protocol.version import PROTOCOL_MAJOR, PROTOCOL_MINOR

IDENTITY = Identity(PROTOCOL_MAJOR, PROTOCOL_MINOR, 1, 1_000_000, 1, 0, "T-1", model="test board", firmware="1.0")


def channel(ticks_per_sample: Fraction = Fraction(1000)) -> ChannelDescription:
    return ChannelDescription(
        0, Role.CURRENT, "I", "line", "A", 0.001, 0.0, -32000, 32000, group=0, ticks_per_sample=ticks_per_sample
    )


def frames(*messages: Message, first: int = 0, boot: int = 1) -> bytes:
    return b"".join(encode_frame(message, sequence=first + k, boot=boot) for k, message in enumerate(messages))


DESCRIPTION = frames(IDENTITY, channel())


def polite(message: Message) -> bytes:
    """What an ordinary board answers."""
    if isinstance(message, Describe):
        return DESCRIPTION
    if isinstance(message, Start):
        return frames(Status(1000, True, 0), first=100)
    if isinstance(message, ClockRequest):
        return frames(ClockReply(message.token, 1000, 1001), first=200)
    return b""


class PtyBoard:
    """The other end of a pty; `url` is what a port opens. `heard` are the messages that came, `said` the bytes sent."""

    def __init__(self, answer: Callable[[Message], bytes] = polite, greeting: bytes = b"", reads: bool = True) -> None:
        self.master, self._slave = pty.openpty()
        tty.setraw(self._slave)  # as a board's end is: no echo, no line editing
        self.url = os.ttyname(self._slave)
        self.heard: list[Message] = []
        self.said = b""
        self._answer = answer
        self._decoder = Decoder()
        self._pulled = threading.Event()
        self.say(greeting)
        self._thread = threading.Thread(target=self._listen, daemon=True)
        if reads:
            self._thread.start()

    def say(self, data: bytes) -> None:
        self.said += data
        while data:
            data = data[os.write(self.master, data) :]

    def _listen(self) -> None:
        while not self._pulled.is_set():
            if not select.select([self.master], [], [], 0.02)[0]:
                continue
            try:
                data = os.read(self.master, 4096)
            except OSError:  # nobody has the other end open just now
                time.sleep(0.01)
                continue
            for found in self._decoder.feed(data):
                if not isinstance(found, Damage):
                    self.heard.append(found.message)
                    self.say(self._answer(found.message))

    def pull(self) -> None:
        """Like a cable that is pulled out: the port's end is dead from now on."""
        if self._pulled.is_set():
            return
        self._pulled.set()
        if self._thread.is_alive():
            self._thread.join()
        os.close(self._slave)
        os.close(self.master)
