"""The live socket: hello, then pictures as the hub makes them; what the page says goes to its viewer.

Plain ASGI, not the framework's socket: this is the path of every picture of every viewer. It closes when the session
ends that it was opened with, and tells at once what devices ask for.
"""

import asyncio
import json
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager, nullcontext
from urllib.parse import parse_qs

from server.access.entrance import Entrance, Visitor
from server.access.permission import Permission, may
from server.live.hub import Hub, TooManyViewersError
from server.live.packing import pack
from server.live.viewer import RubbishError, Viewer
from server.quantities import QUANTITIES
from server.web.access_api import questions
from server.web.guard import VISITOR, Message, Receive, Send, refuse
from server.web.origin import Refusal
from server.web.wire import WIRE, Socket

RIG_NAME_MAX = 100
ENDED = "the session of this page has ended"
LEAVE_S = 0.5
MESSAGES_MAX = 300  # in a second; a page says one thing a picture, and there are thirty
_POLICY = 1008  # RFC 6455, 7.4.1: breaks the policy of whoever closes


class LiveSocket:
    """An ASGI application for one path."""

    def __init__(self, hub: Hub, version: str, entrance: Entrance) -> None:
        self._hub = hub
        self._entrance = entrance
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
            with self._told_of_questions(scope[VISITOR], wire):
                await self._serve(viewer, wire, receive, send, scope[VISITOR])
        except OSError:
            pass  # the page left while something was being sent to it
        finally:
            self._hub.leave(viewer)

    async def _serve(self, viewer: Viewer, wire: Socket, receive: Receive, send: Send, visitor: Visitor) -> None:
        """Until the page leaves, is dropped, says rubbish, or its session ends."""
        loop = asyncio.get_running_loop()
        parting: asyncio.Future[str] = loop.create_future()  # why it is closed
        ear = Ear(viewer)

        def part(why: str) -> None:
            if not parting.done():
                parting.set_result(why)

        def hear(text: str | None) -> None:
            try:
                ear.hear(text, loop.time())
            except RubbishError as error:
                part(str(error))

        wire.listen(hear, viewer.resumed)
        self._hub.start(viewer)
        leaving = asyncio.ensure_future(_until_left(receive))
        try:
            with _heard_of_end(visitor, lambda: part(ENDED)):
                await asyncio.wait((leaving, parting), return_when=asyncio.FIRST_COMPLETED)
            if parting.done():
                await send({"type": "websocket.close", "code": _POLICY, "reason": parting.result()[:120]})
                if visitor.has_left:  # nothing more for it, though it may not answer
                    loop.call_later(LEAVE_S, wire.abort)
        finally:
            leaving.cancel()

    @contextmanager
    def _told_of_questions(self, visitor: Visitor, wire: Socket) -> Iterator[None]:
        """Inside, the page is told what waits for consent: the PC's of all devices, a device's of itself."""
        asked = self._entrance.consents.changed
        device = None if may(visitor.kind, Permission.PC) else visitor.session

        def tell() -> None:
            wire.write(pack({"kind": "asked", "questions": questions(self._entrance, device)}))

        asked.add(tell)
        try:
            if questions(self._entrance, device):
                tell()
            yield
        finally:
            asked.discard(tell)


def _heard_of_end(visitor: Visitor, ended: Callable[[], None]) -> AbstractContextManager[None]:
    return nullcontext() if visitor.session is None else visitor.session.heard_of(ended)


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
