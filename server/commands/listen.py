"""The sockets of the page: both loopback addresses where the system has them, and one more if a person names it."""

import contextlib
import errno
import os
import socket
import sys

_IP_FREEBIND = 15  # linux/in.h; of IPv6 sockets too


class PortBusyError(Exception):
    """The page's port cannot be had; the sentence names it and the way out."""


def listen(port: int) -> list[socket.socket]:
    """Bound sockets, IPv4 first; port 0 takes a free one. Raises PortBusyError."""
    first = listen_at(socket.AF_INET, "127.0.0.1", port)
    sockets = [first]
    try:
        # A free port of our own choice need not be free on the other address; a person's choice must be, or a
        # browser that asks for "localhost" meets somebody else.
        with contextlib.suppress(PortBusyError) if port == 0 else contextlib.nullcontext():
            sockets.append(listen_at(socket.AF_INET6, "::1", first.getsockname()[1]))
    except PortBusyError:
        first.close()
        raise
    except OSError:
        pass  # a system without IPv6
    return sockets


def listen_at(family: socket.AddressFamily, address: str, port: int, *, awaited: bool = False) -> socket.socket:
    """One bound socket. Raises PortBusyError, and OSError where there is no such address.

    `awaited`: on Linux it need not be there yet, and is listened at when it comes (ip(7), IP_FREEBIND).
    """
    opened = socket.socket(family, socket.SOCK_STREAM)
    try:
        if os.name == "posix":  # a port that we have just left is ours again at once; on Windows the option means more
            opened.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        if family == socket.AF_INET6:
            opened.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY, 1)
        if awaited and sys.platform == "linux":
            opened.setsockopt(socket.IPPROTO_IP, _IP_FREEBIND, 1)
        opened.bind((address, port))
        opened.listen(128)
        opened.setblocking(False)
    except OSError as error:
        opened.close()
        if error.errno in (errno.EADDRINUSE, errno.EACCES):
            why = "in use by another program" if error.errno == errno.EADDRINUSE else "not allowed for you"
            other = port + 1 if 1024 <= port < 65535 else 8420
            raise PortBusyError(f"port {port} is {why}; choose another, for example --port {other}.") from None
        raise
    except OverflowError:
        opened.close()
        raise PortBusyError(
            f"there is no port {port}; choose one from 1024 to 65535, for example --port 8420."
        ) from None
    return opened
