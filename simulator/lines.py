"""The board's end of a line: a pty, or TCP on this machine alone. Never blocks on writing.

A line nobody has opened is like an unplugged cable: what is sent is gone. A line that is open and not read
fills up, and then takes nothing more.
"""

import contextlib
import os
import select
import socket
import time
from typing import Protocol

READ_AT_ONCE = 4096
SEND_BUFFER_BYTES = 65_536  # a fifth of a second of the fullest board: what waits in the system is old when it is read


class BoardLine(Protocol):
    """What the pacing loop needs of a line; `url` is what pyserial opens."""

    url: str

    def wait(self, seconds: float) -> bytes:
        """Wait at most so long for control bytes; b"" if none came."""

    @property
    def is_open(self) -> bool:
        """Whether somebody has the other end open, as of the last `wait`."""

    def write(self, data: bytes) -> int:
        """How many bytes the line took; it may be none."""

    def close(self) -> None: ...


class PtyLine:
    """A pseudo-terminal in raw mode; its other end may be opened and closed again and again. POSIX only."""

    def __init__(self) -> None:
        import pty  # not there on Windows, which is why TCP is the way there
        import tty

        self._master, other_end = pty.openpty()
        tty.setraw(other_end)
        self.url = os.ttyname(other_end)
        os.close(other_end)  # from now on a hang-up means: nobody has it open
        os.set_blocking(self._master, False)
        self._poll = select.poll()
        self._poll.register(self._master, select.POLLIN)
        self.is_open = False

    def wait(self, seconds: float) -> bytes:
        state = self._state(seconds)
        if state & select.POLLIN:
            with contextlib.suppress(OSError):  # EIO: closed in the meantime
                return os.read(self._master, READ_AT_ONCE)
        elif not self.is_open:
            time.sleep(seconds)  # a hang-up ends every poll at once
        return b""

    def _state(self, seconds: float) -> int:
        ready = self._poll.poll(seconds * 1000)
        state = ready[0][1] if ready else 0
        self.is_open = not state & select.POLLHUP
        return state

    def write(self, data: bytes) -> int:
        try:
            return os.write(self._master, data)
        except OSError:  # full, or closed in the meantime: the next wait tells which
            return 0

    def close(self) -> None:
        os.close(self._master)


class TcpLine:
    """A TCP port of this machine; one caller at a time, the next one waits. Port 0 takes any free one."""

    def __init__(self, port: int) -> None:
        self._listener = socket.create_server(("127.0.0.1", port), backlog=1)
        self._listener.setblocking(False)
        self.url = f"socket://127.0.0.1:{self._listener.getsockname()[1]}"
        self._caller: socket.socket | None = None

    @property
    def is_open(self) -> bool:
        return self._caller is not None

    def wait(self, seconds: float) -> bytes:
        ready, _, _ = select.select([self._caller or self._listener], [], [], max(seconds, 0.0))
        if not ready:
            return b""
        if self._caller is None:
            self._accept()
            return b""
        try:
            data = self._caller.recv(READ_AT_ONCE)
        except OSError:
            data = b""
        if not data:
            self._hang_up()
        return data

    def _accept(self) -> None:
        with contextlib.suppress(OSError):  # gone before it was answered
            caller, _ = self._listener.accept()
            caller.setblocking(False)
            caller.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, SEND_BUFFER_BYTES)
            caller.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            self._caller = caller

    def _hang_up(self) -> None:
        if self._caller is not None:
            self._caller.close()
        self._caller = None

    def write(self, data: bytes) -> int:
        if self._caller is None:
            return 0
        try:
            return self._caller.send(data)
        except BlockingIOError:
            return 0
        except OSError:
            self._hang_up()
            return 0

    def close(self) -> None:
        self._hang_up()
        self._listener.close()
