"""How the web server speaks below the application: its limits, and what it answers before the application is asked.

Small changes of uvicorn's protocols. An answer of its own would lack our headers; a request that never ends would
hold its connection for ever; and a picture that passes through a queue and a task for each viewer, and its answer back
through another, costs three times what sending it costs.
"""

import asyncio
import sys
from collections.abc import Callable
from typing import Any, ClassVar

import h11
import uvicorn
from uvicorn.protocols.http.h11_impl import H11Protocol
from uvicorn.protocols.websockets.websockets_sansio_impl import WebSocketsSansIOProtocol
from websockets.frames import Opcode
from websockets.http11 import Request, Response
from websockets.server import ServerProtocol

from server.web.guard import HEADERS_MAX, NO_STORE, PROTECTION, Guard
from server.web.origin import LOOPBACK

ACCEPTED_AT_ONCE = 64  # from the queue of each address, before they are counted
RESERVE = 384  # open files for rigs, recordings and software boards; and for what is accepted at once
CONNECTIONS_MAX = 1024 - RESERVE  # beyond the viewers' limit; and a port's number is below 1024, as select() wants it
PILE_MAX = 1 << 20  # bytes that a socket may leave unread, pongs above all: no picture alone is as long
HANDSHAKE_S = 10.0  # for the headers of a request to come
GRACE_S = 2  # at the end viewers get so long to hear it
MESSAGE_MAX = 65_536  # bytes of one message from a page
BUFFER_MAX = 65_536  # bytes still to be sent to a page; beyond it the next picture waits, and gives way to a newer one
ENDLESS = "/api/lines"
WIRE = "slipring.wire"  # where a socket finds its Socket in the scope's extensions
_HEAD_MAX = HEADERS_MAX + 1024  # the guard's limit comes first where the request can be read at all
_FINAL_BINARY = 0x80 | Opcode.BINARY  # RFC 6455, 5.2


class Http(H11Protocol):
    """Requests whose headers come in time and fit. Between two requests uvicorn closes what stays silent."""

    connections_max: ClassVar[int] = CONNECTIONS_MAX

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]  # as in uvicorn
        super().connection_made(transport)
        self._deadline: asyncio.TimerHandle | None = None  # for the headers of the request that is coming
        self._await_headers()
        if len(self.connections) > self.connections_max or self._crowded():
            transport.abort()

    def _crowded(self) -> bool:
        """Whether other devices have half of the room: the rest is kept for the PC itself."""
        ours = (each for each in self.connections if isinstance(each, Http | Socket))
        others = [each for each in ours if each.server and each.server[0] not in LOOPBACK]
        return self in others and len(others) > self.connections_max // 2

    def data_received(self, data: bytes) -> None:
        super().data_received(data)
        if self.conn.their_state is not h11.IDLE:
            self._have_headers()
        elif self._deadline is None:  # the next request has begun
            self._await_headers()

    def connection_lost(self, exc: Exception | None) -> None:
        self._have_headers()
        super().connection_lost(exc)

    def _await_headers(self) -> None:
        self._deadline = self.loop.call_later(HANDSHAKE_S, self.transport.abort)

    def _have_headers(self) -> None:
        if self._deadline is not None:
            self._deadline.cancel()
        self._deadline = None

    def shutdown(self) -> None:
        super().shutdown()
        if self.scope is not None and self.scope["path"] == ENDLESS:  # it would be waited for in vain
            self.transport.close()

    def send_400_response(self, msg: str) -> None:
        too_long = len(self.conn.trailing_data[0]) > _HEAD_MAX
        status, body = (431, b"The request's headers are too long.") if too_long else (400, msg.encode())
        headers = [(b"content-type", b"text/plain; charset=utf-8"), (b"connection", b"close"), NO_STORE, *PROTECTION]
        headers.append((b"content-length", str(len(body)).encode()))
        for event in (h11.Response(status_code=status, headers=headers), h11.Data(data=body), h11.EndOfMessage()):
            self.transport.write(self.conn.send(event) or b"")
        self.transport.close()


class _Handshake(ServerProtocol):
    """A handshake that fails is answered with our headers too."""

    def accept(self, request: Request) -> Response:
        response = super().accept(request)
        if response.status_code != 101:
            for name, value in (NO_STORE, *PROTECTION):
                response.headers[name.decode()] = value.decode()
        return response


class Socket(WebSocketsSansIOProtocol):
    """A socket with a short way for messages, once `listen` was called: `write` at once, `hear` when one has come.

    Handshake, pings, limits and closing are uvicorn's.
    """

    def __init__(self, *given: Any, **named: Any) -> None:
        super().__init__(*given, **named)
        self.conn = _Handshake(max_size=self.config.ws_max_size, logger=self.logger)
        self._hear: Callable[[str | None], None] | None = None
        self._resumed: Callable[[], None] = lambda: None

    def handle_connect(self, event: Request) -> None:
        super().handle_connect(event)
        if not self.close_sent:
            extensions: dict[str, Any] = self.scope["extensions"]
            extensions[WIRE] = self

    async def send(self, message: Any) -> None:
        await super().send(message)
        if self.close_sent:  # refused in our words; the web server would tell the terminal of a mistake, each time
            self.handshake_complete = True

    def data_received(self, data: bytes) -> None:
        if self.transport.get_write_buffer_size() > PILE_MAX:
            self.transport.abort()
        else:
            super().data_received(data)

    def listen(self, hear: Callable[[str | None], None], resumed: Callable[[], None]) -> None:
        """From now on give each text that comes to `hear` (None: bytes), and call `resumed` when `write` may go on."""
        self._hear, self._resumed = hear, resumed
        self.transport.set_write_buffer_limits(high=BUFFER_MAX)

    def write(self, message: bytes) -> bool:
        """Send a binary message. False: it has not left yet; `resumed` will be called."""
        if self.close_sent or self.transport.is_closing():
            return False
        length = len(message)
        if length < 126:
            head = bytes((_FINAL_BINARY, length))
        elif length < 1 << 16:
            head = bytes((_FINAL_BINARY, 126)) + length.to_bytes(2, "big")
        else:
            head = bytes((_FINAL_BINARY, 127)) + length.to_bytes(8, "big")
        self.transport.write(head + message)
        return self.writable.is_set()

    def abort(self) -> None:
        """Drop the connection at once."""
        self.transport.abort()

    def resume_writing(self) -> None:
        super().resume_writing()
        self._resumed()

    def send_receive_event_to_app(self) -> None:
        if self._hear is None or self.close_sent:
            super().send_receive_event_to_app()
            return
        data, self.frames = b"".join(self.frames), []
        self._hear(data.decode(errors="replace") if self.curr_msg_data_type == "text" else None)


def room_for_connections() -> int:
    """How many connections there are files for, once the process has asked for as many as it may open."""
    if sys.platform == "win32":
        return CONNECTIONS_MAX
    import resource

    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    wanted = 2 * CONNECTIONS_MAX + RESERVE  # each may be sent a file
    if soft < wanted:
        soft = wanted if hard == resource.RLIM_INFINITY else min(wanted, hard)
        resource.setrlimit(resource.RLIMIT_NOFILE, (soft, hard))
    return max(min(CONNECTIONS_MAX, (soft - RESERVE) // 2), 32)


def web_server(guard: Guard) -> uvicorn.Config:
    """The settings of the web server."""
    Http.connections_max = room_for_connections()
    return uvicorn.Config(
        guard,
        http=Http,
        ws=Socket,
        ws_per_message_deflate=False,  # costs ten times what sending costs
        ws_max_size=MESSAGE_MAX,
        backlog=ACCEPTED_AT_ONCE,
        h11_max_incomplete_event_size=_HEAD_MAX,
        timeout_graceful_shutdown=GRACE_S,
        proxy_headers=False,  # nobody stands in front of a loopback address
        server_header=False,
        access_log=False,
        log_level="warning",
    )
