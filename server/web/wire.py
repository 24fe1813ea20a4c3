"""How the web server speaks below the application: its limits, and what it answers before the application is asked.

Two small changes of uvicorn's protocols, because an answer of its own would lack our headers, a request that never
ends would hold its connection for ever, and a dead viewer's connection could not be dropped.
"""

import asyncio
from typing import Any

import h11
import uvicorn
from uvicorn.protocols.http.h11_impl import H11Protocol
from uvicorn.protocols.websockets.websockets_sansio_impl import WebSocketsSansIOProtocol
from websockets.http11 import Request, Response
from websockets.server import ServerProtocol

from server.web.guard import HEADERS_MAX, NO_STORE, PROTECTION, Guard

CONNECTIONS_MAX = 1024  # beyond the viewers' limit, so that one too many is told so
HANDSHAKE_S = 10.0  # for the headers of a request to come
GRACE_S = 2  # at the end viewers get so long to hear it
MESSAGE_MAX = 65_536  # bytes of one message from a page
MESSAGES_WAITING_MAX = 16  # from a page: then its connection is not read until they are dealt with
ABORT = "slipring.abort"  # in a socket's scope: drops the connection at once, whatever is still to be sent
_HEAD_MAX = HEADERS_MAX + 1024  # the guard's limit comes first where the request can be read at all


class Http(H11Protocol):
    """Requests whose headers come in time and fit."""

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]  # as in uvicorn
        super().connection_made(transport)
        self._deadline = self.loop.call_later(HANDSHAKE_S, transport.abort)
        if len(self.connections) > CONNECTIONS_MAX:
            transport.abort()

    def data_received(self, data: bytes) -> None:
        self._deadline.cancel()
        super().data_received(data)
        if self.conn.their_state is h11.IDLE:  # the headers are not complete yet
            self._deadline = self.loop.call_at(self._deadline.when(), self.transport.abort)

    def connection_lost(self, exc: Exception | None) -> None:
        self._deadline.cancel()
        super().connection_lost(exc)

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
    """A socket that can be dropped, and that is not paused and resumed for each short message of a page."""

    def __init__(self, *given: Any, **named: Any) -> None:
        super().__init__(*given, **named)
        self.conn = _Handshake(max_size=self.config.ws_max_size, logger=self.logger)

    def handle_connect(self, event: Request) -> None:
        super().handle_connect(event)
        if not self.close_sent:
            extensions: dict[str, Any] = self.scope["extensions"]
            extensions[ABORT] = self.transport.abort

    def send_receive_event_to_app(self) -> None:
        if self.read_paused or self.queue.qsize() >= MESSAGES_WAITING_MAX:
            super().send_receive_event_to_app()
            return
        self.read_paused = True  # nothing is paused that counts as paused already
        super().send_receive_event_to_app()
        self.read_paused = False


def web_server(guard: Guard) -> uvicorn.Config:
    """The settings of the web server."""
    return uvicorn.Config(
        guard,
        http=Http,
        ws=Socket,
        ws_per_message_deflate=False,  # costs ten times what sending costs
        ws_max_size=MESSAGE_MAX,
        h11_max_incomplete_event_size=_HEAD_MAX,
        timeout_graceful_shutdown=GRACE_S,
        proxy_headers=False,  # nobody stands in front of a loopback address
        server_header=False,
        access_log=False,
        log_level="warning",
    )
