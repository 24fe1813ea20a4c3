"""Requests byte by byte, as no client library would send them."""

import contextlib
import socket

TOKEN = "a-token-for-tests-of-at-least-32-characters"

UPGRADE = (
    "Upgrade: websocket\r\nConnection: Upgrade\r\nSec-WebSocket-Version: 13\r\n"
    "Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n"  # RFC 6455, 1.3
)


def answer(port: int, request: str | bytes, limit: int = 100_000) -> tuple[int, dict[str, str], bytes]:
    """Status, headers and body. Status 0: the connection was closed without an answer."""
    data = request if isinstance(request, bytes) else request.encode("latin-1")
    with socket.create_connection(("127.0.0.1", port), timeout=5) as connection:
        with contextlib.suppress(ConnectionError):
            connection.sendall(data)
        return _parsed(read(connection, limit))


def read(connection: socket.socket, limit: int = 100_000) -> bytes:
    """One answer, to the last byte of its body or to the end of the connection."""
    got = bytearray()
    with contextlib.suppress(ConnectionError, TimeoutError):
        while len(got) < limit and (piece := connection.recv(65_536)):
            got += piece
            head, found, body = bytes(got).partition(b"\r\n\r\n")
            if found and (b" 101 " in head[:20] or _complete(head, body)):
                break
    return bytes(got)


def _complete(head: bytes, body: bytes) -> bool:
    for line in head.lower().split(b"\r\n"):
        if line.startswith(b"content-length:"):
            return len(body) >= int(line.split(b":")[1])
    return False


def _parsed(got: bytes) -> tuple[int, dict[str, str], bytes]:
    head, _, body = got.partition(b"\r\n\r\n")
    if not head:
        return 0, {}, b""
    status, *lines = head.decode("latin-1").split("\r\n")
    headers = dict(line.lower().split(": ", 1) for line in lines)
    return int(status.split()[1]), headers, body


def get(host: str, path: str = "/api/rigs", more: str = "", token: str = TOKEN) -> bytes:
    """A GET with this Host, any bytes, of somebody who has the token; "": who has none."""
    more += f"Authorization: Bearer {token}\r\n" if token else ""
    return f"GET {path} HTTP/1.1\r\nHost: {host}\r\n{more}\r\n".encode("utf-8", "surrogateescape")


def upgrade(host: str, origin: str | None, more: str = "", token: str = TOKEN) -> bytes:
    """A WebSocket handshake with this Host and Origin."""
    named = "" if origin is None else f"Origin: {origin}\r\n"
    return get(host, "/live", f"{UPGRADE}{named}{more}", token)
