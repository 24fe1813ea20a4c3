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
from server.web.wire import ABORT

RIG_NAME_MAX = 100
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
        try:
            viewer = self._hub.join(rig[:RIG_NAME_MAX])
        except TooManyViewersError as error:
            return await refuse(scope, receive, send, Refusal(503, f"{error}.", 10))
        try:
            await receive()  # the connect
            await send({"type": "websocket.accept"})
            await send({"type": "websocket.send", "bytes": self._hello})
            await self._both(viewer, receive, send, scope)
        finally:
            self._hub.leave(viewer)

    async def _both(self, viewer: Viewer, receive: Receive, send: Send, scope: Message) -> None:
        """Send and listen until the page leaves, says rubbish or is given up."""
        doing = (_listen(viewer, receive), _send(viewer, send), viewer.gone.wait())
        tasks: list[asyncio.Task[object]] = [asyncio.create_task(each) for each in doing]
        try:
            done, _ = await asyncio.wait(tasks, return_when=asyncio.FIRST_COMPLETED)
            if viewer.gone.is_set():  # what still waits to be sent never will be
                scope["extensions"][ABORT]()
            for task in done:
                task.result()
        except RubbishError as error:
            await send({"type": "websocket.close", "code": _RUBBISH, "reason": str(error)[:120]})
        except OSError:
            pass  # the page left while something was being sent to it
        finally:
            for task in tasks:
                task.cancel()
            await asyncio.gather(*tasks, return_exceptions=True)


async def _send(viewer: Viewer, send: Send) -> None:
    while True:
        await send({"type": "websocket.send", "bytes": await viewer.next()})


async def _listen(viewer: Viewer, receive: Receive) -> None:
    """Until the page leaves. Raises RubbishError for what no page says."""
    clock = asyncio.get_running_loop().time
    while (message := await receive())["type"] != "websocket.disconnect":
        heard(viewer, message.get("text"), clock())


def heard(viewer: Viewer, text: str | None, now_s: float) -> None:
    """Do what the page said. Raises RubbishError."""
    try:
        said = json.loads(text or "")
    except (ValueError, RecursionError):
        raise RubbishError("a message was no JSON") from None
    match said:
        case {"drawn": int(number), **rest} if not rest and not isinstance(number, bool):
            viewer.drawn(number, now_s)
        case {"rig": str(rig), **rest} if not rest:
            viewer.look_at(rig[:RIG_NAME_MAX])
        case _:
            raise RubbishError("a message was neither drawn nor rig")
