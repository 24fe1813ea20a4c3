"""TLS in front of the web server: a connection is handed to it once it is encrypted.

The web server's own way would count a connection only then: whoever opens many and says nothing would hold files that
recordings need. Here few may be opening at once, and each has ten seconds.
"""

import asyncio
import ssl
from collections.abc import Callable

from server.web.wire import HANDSHAKE_S

OPENING_MAX = 64  # as many as wait in the queue of an address
GOODBYE_S = 2.0


class TlsDoor(asyncio.Protocol):
    """One connection that is not encrypted yet. `opening` holds all that are; `make` gives the protocol behind."""

    def __init__(self, context: ssl.SSLContext, make: Callable[[], asyncio.Protocol], opening: set["TlsDoor"]) -> None:
        self._context, self._make, self._opening = context, make, opening
        self._task: asyncio.Task[None] | None = None

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        assert isinstance(transport, asyncio.Transport)
        if len(self._opening) >= OPENING_MAX:
            transport.abort()
            return
        self._opening.add(self)
        self._task = asyncio.get_running_loop().create_task(self._open(transport))

    async def _open(self, transport: asyncio.Transport) -> None:
        waiting = _Waiting()
        try:
            encrypted = await asyncio.get_running_loop().start_tls(
                transport,
                waiting,
                self._context,
                server_side=True,
                ssl_handshake_timeout=HANDSHAKE_S,
                ssl_shutdown_timeout=GOODBYE_S,
            )
        except OSError:  # no TLS, an unknown certificate, or it left: its own affair
            transport.abort()
        else:
            if encrypted is not None:
                waiting.hand_over(encrypted, self._make())
        finally:
            self._opening.discard(self)


class _Waiting(asyncio.Protocol):
    """Keeps what comes between the handshake and the protocol that is to hear it."""

    def __init__(self) -> None:
        self._came = bytearray()
        self._lost = False

    def data_received(self, data: bytes) -> None:
        self._came += data

    def connection_lost(self, error: Exception | None) -> None:
        self._lost = True

    def hand_over(self, transport: asyncio.Transport, protocol: asyncio.Protocol) -> None:
        if self._lost:
            return
        transport.set_protocol(protocol)
        protocol.connection_made(transport)
        if self._came and not transport.is_closing():
            protocol.data_received(bytes(self._came))
