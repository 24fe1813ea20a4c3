"""The live socket: hello, then pictures as the hub makes them; what the page says goes to its viewer.

Plain ASGI, not the framework's socket: this is the path of every picture of every viewer.
"""

import asyncio
import json
from urllib.parse import parse_qs

from server.live.hub import Hub, TooManyViewersError
from server.live.packing import pack
from server.live.viewer import RubbishError, Viewer
from server.quantities import QUANTITIES
from server.web.guard import Message, Receive, Send, refuse
from server.web.origin import Refusal
from server.web.wire import WIRE, Socket

RIG_NAME_MAX = 100
MESSAGES_MAX = 300  # in a second; a page says one thing a picture, and there are thirty
_RUBBISH = 1008  # RFC 6455, 7.4.1: a message that breaks the policy of whoever receives it


class LiveSocket:
    """An ASGI application for one path."""

    def __init__(self, hub: Hub, version: str) -> None:
        self._hub = hub
        self._hello = pack(
            {
                "kind": "hello",
                "quantities": [
                    {"key": one.key, "symbol": one.symbol, "label": one.label, "unit": one.unit, "digits": one.digits}
                    for one in QUANTITIES
                ],
                "service": version,
            }
        )

    async def __call__(self, scope: Message, receive: Receive, send: Send) -> None:
        rig = parse_qs(scope["query_string"].decode("latin-1")).get("rig", [""])[0]
        wire: Socket = scope["extensions"][WIRE]
        try:
            viewer = self._hub.join(rig[:RIG_NAME_MAX], wire)
        except TooManyViewersError as error:
            return await refuse(scope, receive, send, Refusal(503, f"{error}.", 10))
        try:
            await receive()  # the connect
            await send({"type": "websocket.accept"})
            await send({"type": "websocket.send", "bytes": self._hello})
            await self._serve(viewer, wire, receive, send)
        except OSError:
            pass  # the page left while something was being sent to it
        finally:
            self._hub.leave(viewer)

    async def _serve(self, viewer: Viewer, wire: Socket, receive: Receive, send: Send) -> None:
        """Until the page leaves, is dropped, or says rubbish."""
        loop = asyncio.get_running_loop()
        rubbish: asyncio.Future[str] = loop.create_future()
        ear = Ear(viewer)

        def hear(text: str | None) -> None:
            try:
                ear.hear(text, loop.time())
            except RubbishError as error:
                if not rubbish.done():
                    rubbish.set_result(str(error))

        wire.listen(hear, viewer.resumed)
        self._hub.start(viewer)
        leaving = asyncio.ensure_future(_until_left(receive))
        try:
            await asyncio.wait((leaving, rubbish), return_when=asyncio.FIRST_COMPLETED)
            if rubbish.done():
                await send({"type": "websocket.close", "code": _RUBBISH, "reason": rubbish.result()[:120]})
        finally:
            leaving.cancel()


async def _until_left(receive: Receive) -> None:
    while (await receive())["type"] != "websocket.disconnect":
        pass


class Ear:
    """Understands what the page of a viewer says."""

    def __init__(self, viewer: Viewer) -> None:
        self._viewer = viewer
        self._second = 0.0
        self._heard = 0

    def hear(self, text: str | None, now_s: float) -> None:
        """Do what the page said. Raises RubbishError."""
        if now_s - self._second >= 1:
            self._second, self._heard = now_s, 0
        self._heard += 1
        if self._heard > MESSAGES_MAX:
            raise RubbishError(f"more than {MESSAGES_MAX} messages came in a second")
        try:
            said = json.loads(text or "")
        except (ValueError, RecursionError):
            raise RubbishError("a message was no JSON") from None
        match said:
            case {"drawn": int(number), **rest} if not rest and not isinstance(number, bool):
                self._viewer.drawn(number, now_s)
            case {"cycles": int(cycles), **rest} if not rest and not isinstance(cycles, bool):
                self._viewer.zoom(cycles)
            case {"rig": str(rig), **rest} if not rest:
                self._viewer.look_at(rig[:RIG_NAME_MAX])
            case _:
                raise RubbishError("a message was neither drawn nor rig nor cycles")
