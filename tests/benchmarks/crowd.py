"""A crowd of viewers in a process of its own: `python -m tests.benchmarks.crowd PORT PATH VIEWERS ANSWER`.

Counts pictures, answers them if ANSWER is 1, and writes one line to standard output once every viewer has got one more.
Plain sockets, so that the crowd needs little of the machine that is measured.
"""

import asyncio
import os
import re
import sys

from tests.server.web.raw import TOKEN

_KEY = "dGhlIHNhbXBsZSBub25jZQ=="
_NUMBER = re.compile(rb'"number":(\d+)')


class Viewer(asyncio.Protocol):
    """One viewer: finds the frames (RFC 6455, 5.2) and tells the crowd of each picture."""

    def __init__(self, crowd: "Crowd", port: int, path: str, answer: bool) -> None:
        self.crowd, self.port, self.path, self.answer = crowd, port, path, answer
        self.got = bytearray()
        self.open = False

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        assert isinstance(transport, asyncio.Transport)
        self.transport = transport
        host = f"127.0.0.1:{self.port}"
        lines = f"GET {self.path} HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\nUpgrade: websocket\r\n"
        lines += f"Connection: Upgrade\r\nSec-WebSocket-Version: 13\r\nSec-WebSocket-Key: {_KEY}\r\n"
        lines += f"Authorization: Bearer {TOKEN}\r\n\r\n"
        transport.write(lines.encode())

    def data_received(self, data: bytes) -> None:
        self.got += data
        if not self.open:
            head, found, rest = bytes(self.got).partition(b"\r\n\r\n")
            if not found:
                return
            assert b" 101 " in head[:20], head
            self.open, self.got = True, bytearray(rest)
            self.crowd.opened()
        while (frame := self._frame()) is not None:
            number = _NUMBER.search(frame, 0, 100)
            if number is None:  # the hello
                continue
            if self.answer:
                self._say(b'{"drawn": %s}' % number[1])
            self.crowd.received()

    def _frame(self) -> bytes | None:
        got = self.got
        if len(got) < 4:
            return None
        length, begin = got[1] & 127, 2
        if length == 126:
            length, begin = int.from_bytes(got[2:4], "big"), 4
        elif length == 127:
            length, begin = int.from_bytes(got[2:10], "big"), 10
        if len(got) < begin + length:
            return None
        frame = bytes(got[begin : begin + length])
        del got[: begin + length]
        return frame

    def _say(self, text: bytes) -> None:
        self.transport.write(bytes((0x81, 0x80 | len(text), 0, 0, 0, 0)) + text)  # a mask of zeros changes nothing


class Crowd:
    """Counts for all viewers together."""

    def __init__(self, viewers: int) -> None:
        self.viewers = viewers
        self._opened = self._received = 0

    def opened(self) -> None:
        self._opened += 1
        if self._opened == self.viewers:
            os.write(1, b"\n")

    def received(self) -> None:
        self._received += 1
        if self._received % self.viewers == 0:
            os.write(1, b"\n")


async def main() -> None:
    port, path, viewers, answer = int(sys.argv[1]), sys.argv[2], int(sys.argv[3]), sys.argv[4] == "1"
    loop, crowd = asyncio.get_running_loop(), Crowd(viewers)
    for _ in range(viewers):
        await loop.create_connection(lambda: Viewer(crowd, port, path, answer), "127.0.0.1", port)
    await loop.run_in_executor(None, sys.stdin.read)  # until the benchmark closes it


if __name__ == "__main__":
    asyncio.run(main())
