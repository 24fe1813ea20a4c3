"""Stands before everything, HTTP and WebSocket alike: judges Host, Origin, token and size before any routing.

Pure ASGI and believes no proxy header. Every response that passes gets the same protective headers.
"""

import asyncio
import json
import time
from collections.abc import Awaitable, Callable, MutableMapping
from typing import Any, TypeAlias

from server.web.origin import Headers, Refusal, all_values, judge_fetch, judge_host, judge_origin
from server.web.token import Tokens

Message: TypeAlias = MutableMapping[str, Any]
Receive: TypeAlias = Callable[[], Awaitable[Message]]
Send: TypeAlias = Callable[[Message], Awaitable[None]]
App: TypeAlias = Callable[[Message, Receive, Send], Awaitable[None]]

HEADERS_MAX = 8192
BODY_MAX = 1_000_000
BODY_S = 10.0
_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; img-src 'self'; font-src 'self'; "
    "frame-ancestors 'none'; base-uri 'none'; form-action 'none'; object-src 'none'"
)
PROTECTION = (
    (b"content-security-policy", _POLICY.encode()),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
)
NO_STORE = (b"cache-control", b"no-store")  # unless the answer says otherwise: static files with a hash in their name
_OURS = {name for name, _ in PROTECTION} | {b"server"}
_SAFE = ("GET", "HEAD")


class Guard:
    """Wraps the application. `token` is the scripts' token; the port is the one that the connection came in by."""

    def __init__(self, app: App, token: str) -> None:
        self._app = app
        self._tokens = Tokens(token)

    async def __call__(self, scope: Message, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan":
            return await self._app(scope, receive, send)
        guarded = _protected(send)
        refusal = self._judge(scope)
        if refusal is not None:
            return await refuse(scope, receive, guarded, refusal)
        if scope["type"] == "http" and scope["method"] == "HEAD":
            scope = {**scope, "method": "GET"}  # the server below leaves the body out (RFC 9110, 9.3.2)
        elif scope["type"] == "http" and scope["method"] not in _SAFE:
            body = await _whole_body(receive)
            if body is None:
                return None
            if isinstance(body, Refusal):
                return await refuse(scope, receive, guarded, body)
            receive = _replayed(body, receive)
        return await self._app(scope, receive, guarded)

    def _judge(self, scope: Message) -> Refusal | None:
        headers: Headers = scope["headers"]
        if sum(len(name) + len(value) + 4 for name, value in headers) + len(scope["raw_path"]) > HEADERS_MAX:
            return Refusal(431, f"The request's headers are longer than {HEADERS_MAX} bytes.")
        if not scope["raw_path"].startswith(b"/"):  # a whole address, or *: whoever sends it takes us for a proxy
            return Refusal(400, "The request must ask for a path.")
        port = (scope.get("server") or ("", 0))[1] or 0
        if (refusal := judge_host(headers, port)) is not None:
            return refusal
        is_socket = scope["type"] == "websocket"
        if not is_socket and scope["method"] in _SAFE:
            return judge_fetch(headers)
        return (
            judge_origin(headers, port)
            or self._judge_token(headers, scope)
            or (None if is_socket else _judge_form(headers))
        )

    def _judge_token(self, headers: Headers, scope: Message) -> Refusal | None:
        """Our own page needs no token; whoever gives one must give the right one."""
        if all_values(headers, b"origin") and not all_values(headers, b"authorization"):
            return None
        source = (scope.get("client") or ("",))[0]
        return self._tokens.judge(headers, source, time.monotonic())


def _judge_form(headers: Headers) -> Refusal | None:
    """What no form of a foreign page can send."""
    kinds = all_values(headers, b"content-type")
    if len(kinds) != 1 or kinds[0].partition(";")[0].strip().lower() != "application/json":
        return Refusal(415, "What changes something must come as JSON, with the header Content-Type: application/json.")
    if all_values(headers, b"slipring-request") != ["1"]:
        return Refusal(403, "What changes something needs the header Slipring-Request: 1.")
    lengths = all_values(headers, b"content-length")
    if lengths and (not lengths[0].isdecimal() or int(lengths[0]) > BODY_MAX):
        return _TOO_LARGE
    return None


_TOO_LARGE = Refusal(413, f"The request is longer than {BODY_MAX} bytes.")


async def _whole_body(receive: Receive) -> bytes | Refusal | None:
    """All of the body, so that no route has to mind its length or slowness; None if whoever sent it has left."""
    body = bytearray()
    try:
        async with asyncio.timeout(BODY_S):
            while True:
                message = await receive()
                if message["type"] == "http.disconnect":
                    return None
                body += message.get("body", b"")
                if len(body) > BODY_MAX:
                    return _TOO_LARGE
                if not message.get("more_body", False):
                    return bytes(body)
    except TimeoutError:
        return Refusal(408, f"The request did not come to its end within {BODY_S:.0f} s.")


def _replayed(body: bytes, receive: Receive) -> Receive:
    left: list[Message] = [{"type": "http.request", "body": body, "more_body": False}]

    async def receive_again() -> Message:
        return left.pop() if left else await receive()

    return receive_again


def _protected(send: Send) -> Send:
    async def send_protected(message: Message) -> None:
        if message["type"] in ("http.response.start", "websocket.http.response.start"):
            kept = [(name, value) for name, value in message.get("headers", []) if name.lower() not in _OURS]
            if not any(name.lower() == b"cache-control" for name, _ in kept):
                kept.append(NO_STORE)
            message = {**message, "headers": [*kept, *PROTECTION]}
        await send(message)

    return send_protected


async def refuse(scope: Message, receive: Receive, send: Send, refusal: Refusal) -> None:
    """Answer with the sentence; a socket is refused before its handshake, in the same words."""
    body = json.dumps({"detail": refusal.sentence}).encode()
    headers = [(b"content-type", b"application/json"), (b"content-length", str(len(body)).encode())]
    if refusal.retry_s is not None:
        headers.append((b"retry-after", str(refusal.retry_s).encode()))
    if refusal.status in (408, 413, 431):
        headers.append((b"connection", b"close"))  # what is left of the request is not read
    kind = "http.response"
    if scope["type"] == "websocket":
        kind = "websocket.http.response"
        await receive()  # the connect
    await send({"type": f"{kind}.start", "status": refusal.status, "headers": headers})
    await send({"type": f"{kind}.body", "body": body})
