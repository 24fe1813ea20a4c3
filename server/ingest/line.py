"""An open serial line: a device, a pty or a socket. Reads all that is there, never blocks on writing.

Trouble with an open line is one exception, LineGoneError, whatever the system called it: ptys return nothing or EIO
when their other end closes, sockets return nothing, devices that were pulled out fail in several ways.
"""

import errno
import os
import re
import select
import socket
from collections.abc import Callable
from typing import Protocol, TypeVar
from urllib.parse import urlsplit

import serial

from server.ingest.refusals import open_by

READ_AT_ONCE = 65_536  # bytes asked for in one call; a tty gives about 4 kB of them
CHUNK_MAX = 1_048_576  # bytes handed over at once, so that a line faster than this program cannot hold it in one read
CONNECT_S = 2.0  # a socket that takes longer counts as not there
BITS_PER_BYTE = 10  # start bit, eight data bits, stop bit
USB_BYTES_PER_S = 1_200_000  # full-speed USB at most; a board with USB of its own ignores the baud rate


T = TypeVar("T")


class LineGoneError(OSError):
    """The other end is gone: pulled out, closed, reset."""


class Line(Protocol):
    """An open line. `bytes_per_s`: what it can carry, None where nothing but the machine limits it."""

    bytes_per_s: float | None

    def read(self, timeout_s: float) -> bytes:
        """Wait for bytes, then all that are there; b"" if none came in time. Raises LineGoneError."""

    def write(self, data: bytes) -> int:
        """How many bytes the line took; it may be none. Does not wait. Raises LineGoneError."""

    def close(self) -> None: ...


def open_line(url: str, baud: int) -> Line:
    """Raises OSError, serial.SerialException or ValueError; `refusals.explain` knows them all."""
    if url.startswith("socket://"):
        return SocketLine(url)
    if "://" in url:  # pyserial knows more of them; one of those writes to any file that its address names
        raise ValueError("neither a device nor a socket")
    # Locked: two programs on one port would each get half of the bytes.
    port = serial.Serial(url, baudrate=baud, timeout=0, write_timeout=0, exclusive=True)
    if os.name != "posix":
        return OtherLine(port)
    carried = carried_bytes_per_s(url, baud)
    # Most terminal programs do not lock. A pty is left out: its board has it open too.
    if carried is not None and any(pid != os.getpid() for pid in open_by(url)):
        port.close()
        raise OSError(errno.EBUSY, os.strerror(errno.EBUSY), url)
    return DeviceLine(port, carried)


def place_of(wanted: str) -> tuple[str, int | None]:
    """A device, and its baud rate where one is written behind it: `/dev/ttyUSB0@250000`."""
    device, at, baud = wanted.rpartition("@")
    if at and device.startswith(("/dev/", "COM")) and baud.isdecimal():
        return device, int(baud)
    return wanted, None


def carried_bytes_per_s(device: str, baud: int) -> float | None:
    """What a serial device carries: its baud rate, the USB's limit for boards with USB of their own, None for a pty."""
    name = os.path.realpath(device)
    if is_pty(name):
        return None
    return USB_BYTES_PER_S if re.search(r"ttyACM|usbmodem", name) else baud / BITS_PER_BYTE


def is_pty(url: str) -> bool:
    """A pseudo terminal by its own name. Once it is gone its number goes to whoever asks next, a shell for example."""
    return re.match(r"/dev/(pts/|ttys)\d", url) is not None


def _drain(fd: int, take: Callable[[T, int], bytes], source: T, timeout_s: float) -> bytes:
    """Wait for the descriptor, then take until nothing is there. One take is not enough: a tty gives 4 kB at most."""
    if not select.select([fd], [], [], timeout_s)[0]:
        return b""
    pieces: list[bytes] = []
    size = 0
    try:
        while size < CHUNK_MAX and (piece := take(source, READ_AT_ONCE)):
            pieces.append(piece)
            size += len(piece)
    except BlockingIOError:
        return b"".join(pieces)
    except OSError as error:
        if not pieces:
            raise LineGoneError(error.errno, error.strerror) from error
    if not pieces:  # ready and yet nothing: this is how the end of a pty or a connection looks
        raise LineGoneError("the other end was closed")
    return b"".join(pieces)


class DeviceLine:
    """A tty by its file descriptor, which pyserial has opened, locked and set up."""

    def __init__(self, port: serial.Serial, bytes_per_s: float | None) -> None:
        self.bytes_per_s = bytes_per_s
        self._port = port
        self._fd: int = port.fileno()

    def read(self, timeout_s: float) -> bytes:
        return _drain(self._fd, os.read, self._fd, timeout_s)

    def write(self, data: bytes) -> int:
        try:
            return os.write(self._fd, data)
        except BlockingIOError:
            return 0
        except OSError as error:
            raise LineGoneError(error.errno, error.strerror) from error

    def close(self) -> None:
        self._port.close()


class SocketLine:
    """A TCP connection to `socket://host:port`. Not pyserial's: its count of waiting bytes is 0 or 1."""

    bytes_per_s: float | None = None

    def __init__(self, url: str) -> None:
        parts = urlsplit(url)
        if not parts.hostname or not parts.port:  # parts.port raises ValueError itself for what is no port
            raise ValueError("host or port is missing")
        self._socket = socket.create_connection((parts.hostname, parts.port), timeout=CONNECT_S)
        self._socket.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        self._socket.setblocking(False)

    def read(self, timeout_s: float) -> bytes:
        return _drain(self._socket.fileno(), socket.socket.recv, self._socket, timeout_s)

    def write(self, data: bytes) -> int:
        try:
            return self._socket.send(data)
        except BlockingIOError:
            return 0
        except OSError as error:
            raise LineGoneError(error.errno, error.strerror) from error

    def close(self) -> None:
        self._socket.close()


class OtherLine:
    """What pyserial opens without a file descriptor: devices on Windows."""

    bytes_per_s: float | None = None

    def __init__(self, port: serial.SerialBase) -> None:
        self._port = port

    def read(self, timeout_s: float) -> bytes:
        try:
            self._port.timeout = timeout_s
            first = bytes(self._port.read(1))
            waiting = min(self._port.in_waiting, CHUNK_MAX) if first else 0  # type: ignore[attr-defined]  # not in the stub
            return first + bytes(self._port.read(waiting)) if waiting else first
        except OSError as error:  # SerialException is one
            raise LineGoneError(str(error)) from error

    def write(self, data: bytes) -> int:
        try:
            return int(self._port.write(data) or 0)
        except serial.SerialTimeoutException:
            return 0
        except OSError as error:
            raise LineGoneError(str(error)) from error

    def close(self) -> None:
        self._port.close()
