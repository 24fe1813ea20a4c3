"""Stands before everything, HTTP and WebSocket alike: judges Host, Origin, size and who asks before any routing.

Pure ASGI and believes no proxy header. Every response that passes gets the same protective headers. Strangers get the
door and nothing else; what a paired device may not do by itself waits here for the PC's consent.
"""

import asyncio
import base64
import hashlib
import json
import time
from collections.abc import Awaitable, Callable, MutableMapping
from contextlib import suppress
from typing import Any, TypeAlias

from server.access.consent import ASK_S, OF_ONE_MAX, Answer
from server.access.entrance import Entrance, Visitor
from server.access.permission import Permission, may, needs_consent
from server.access.sessions import Session
from server.procedures.sheet import STYLE
from server.web.door import Door
from server.web.origin import (
    LOOPBACK,
    Headers,
    Refusal,
    Served,
    all_values,
    judge_fetch,
    judge_host,
    judge_origin,
    loopback,
)
from server.web.permissions import Need, Needs
from server.web.token import visitor_by_cookie, visitor_by_token

Message: TypeAlias = MutableMapping[str, Any]
Receive: TypeAlias = Callable[[], Awaitable[Message]]
Send: TypeAlias = Callable[[Message], Awaitable[None]]
App: TypeAlias = Callable[[Message, Receive, Send], Awaitable[None]]

HEADERS_MAX = 8192
BODY_MAX = 1_000_000
REST_S = 0.5  # a body that is too long is read on for so long, no more than as much again
BODY_S = 10.0
_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; img-src 'self'; font-src 'self'; "
    "frame-ancestors 'none'; base-uri 'none'; form-action 'none'; object-src 'none'"
)
_SHEET_STYLE = base64.b64encode(hashlib.sha256(STYLE.encode()).digest()).decode()
SHEET_POLICY = (  # of a page that needs nothing but itself and its one style: stricter than that of the others
    f"default-src 'none'; style-src 'sha256-{_SHEET_STYLE}'; frame-ancestors 'none'; base-uri 'none'; "
    "form-action 'none'"
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
SERVED = "slipring.served"  # where a route finds the address that was asked, and who asks
VISITOR = "slipring.visitor"


class Guard:
    """Wraps the application. `needs`: what its routes need; `door`: what strangers are shown.

    The address that a connection came in by decides what the service is called there, and who may come in by it.
    """

    def __init__(self, app: App, entrance: Entrance, needs: Needs, door: Door) -> None:
        self._app = app
        self._entrance = entrance
        self._needs = needs
        self._door = door
        bench = entrance.bench
        self._bench = None if bench is None else Served(bench.names, bench.port, bench.encrypted)

    async def __call__(self, scope: Message, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan":
            return await self._app(scope, receive, send)
        guarded = _protected(send)
        served = self._served(scope)
        refusal = _judge_size(scope) or self._judge_place(scope, served)
        if refusal is not None or served is None:
            return await refuse(scope, receive, guarded, refusal or _NOWHERE)
        visitor = self._visitor(scope, served)
        if isinstance(visitor, Refusal):
            return await refuse(scope, receive, guarded, visitor)
        if scope["type"] == "http" and scope["method"] == "HEAD":
            scope = {**scope, "method": "GET"}  # the server below leaves the body out (RFC 9110, 9.3.2)
        method = scope["method"] if scope["type"] == "http" else "GET"
        need = self._needs.of(method, scope["path"])
        if visitor is None and need.permission is not Permission.OPEN:
            if method == "GET" and scope["type"] == "http" and (shown := self._door.answer(scope["path"])):
                return await shown(scope, receive, guarded)
            return await refuse(scope, receive, guarded, _stranger(served is self._bench))
        if visitor is not None and not _in_reach(visitor, need):
            return await refuse(scope, receive, guarded, _AT_PC_ONLY)
        scope = {**scope, SERVED: served, VISITOR: visitor}
        if method != "GET":
            return await self._change(scope, receive, guarded, need)
        return await self._app(scope, receive, guarded)

    def _served(self, scope: Message) -> Served | None:
        """The address that the connection came in by."""
        host, port = scope.get("server") or ("", 0)
        if host in LOOPBACK:
            return loopback(port)
        return self._bench

    def _judge_place(self, scope: Message, served: Served | None) -> Refusal | None:
        if served is None:
            return _NOWHERE
        headers: Headers = scope["headers"]
        if (refusal := judge_host(headers, served)) is not None:
            return refusal
        if scope["type"] == "http" and scope["method"] in _SAFE:
            return judge_fetch(headers)
        return judge_origin(headers, served)

    def _visitor(self, scope: Message, served: Served) -> Visitor | Refusal | None:
        """Whoever gives a token must give the right one; without one, a page of ours has its session."""
        headers: Headers = scope["headers"]
        source = (scope.get("client") or ("",))[0]
        local = served is not self._bench
        by_token = visitor_by_token(self._entrance, headers, source, local, time.monotonic())
        if by_token is not None:
            return by_token
        is_safe = scope["type"] == "http" and scope["method"] in _SAFE
        if not is_safe and not all_values(headers, b"origin"):
            return Refusal(401, "A script needs the token of this service; slipring token tells where it is.")
        return visitor_by_cookie(self._entrance, headers, served, source, local)

    async def _change(self, scope: Message, receive: Receive, send: Send, need: Need) -> None:
        refusal = _judge_form(scope["headers"])
        if refusal is not None:
            return await refuse(scope, receive, send, refusal)
        body = await _whole_body(receive)
        if body is None:
            return None
        if isinstance(body, Refusal):
            return await refuse(scope, receive, send, body)
        visitor: Visitor | None = scope[VISITOR]
        if visitor is not None and visitor.session is not None and needs_consent(visitor.kind, need.permission):
            unfit = await need.refusal(body)  # the PC is asked for nothing that would be refused anyway
            if unfit is not None:
                return await refuse(scope, receive, send, unfit)
            answer = await self._consent(visitor.session, need, body, receive)
            if answer is not Answer.ACCEPTED:
                return await refuse(scope, receive, send, _NO_CONSENT[answer])
        return await self._app(scope, _replayed(body, receive), send)

    async def _consent(self, device: Session, need: Need, body: bytes, receive: Receive) -> Answer:
        """What the PC says to it; the question is withdrawn when the device leaves."""
        asking = asyncio.ensure_future(self._entrance.consents.ask(device, need.words(body)))
        leaving = asyncio.ensure_future(_until_left(receive))
        try:
            await asyncio.wait((asking, leaving), return_when=asyncio.FIRST_COMPLETED)
            return asking.result() if asking.done() else Answer.GONE
        finally:
            asking.cancel()
            leaving.cancel()
            await asyncio.gather(asking, leaving, return_exceptions=True)


def _in_reach(visitor: Visitor, need: Need) -> bool:
    """Whether it may be done, if need be with consent."""
    return may(visitor.kind, need.permission) or needs_consent(visitor.kind, need.permission)


async def _until_left(receive: Receive) -> None:
    while (await receive())["type"] != "http.disconnect":
        pass


def _judge_size(scope: Message) -> Refusal | None:
    headers: Headers = scope["headers"]
    if sum(len(name) + len(value) + 4 for name, value in headers) + len(scope["raw_path"]) > HEADERS_MAX:
        return Refusal(431, f"The request's headers are longer than {HEADERS_MAX} bytes.")
    if not scope["raw_path"].startswith(b"/"):  # a whole address, or *: whoever sends it takes us for a proxy
        return Refusal(400, "The request must ask for a path.")
    return None


def _stranger(on_bench: bool) -> Refusal:
    if on_bench:
        return Refusal(401, "This device is not paired; open the page and type the code that the PC shows.")
    return Refusal(
        401, "Nobody comes in without a session or token; slipring link opens the page, slipring token helps a script."
    )


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


_AT_PC_ONLY = Refusal(403, "This is done at the PC only.")
_NOWHERE = Refusal(421, "Slipring does not answer at this address.")
_NO_CONSENT = {
    Answer.REFUSED: Refusal(403, "The PC did not agree; nothing was changed."),
    Answer.LATE: Refusal(403, f"Nobody at the PC agreed within {ASK_S:.0f} s; nothing was changed."),
    Answer.GONE: Refusal(403, "This device is paired no more; nothing was changed."),
    Answer.TOO_MANY: Refusal(
        429, f"{OF_ONE_MAX} questions of this device wait at the PC already; nothing was changed.", 10
    ),
}
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


async def _rest_of(receive: Receive) -> None:
    """Takes what is on its way of a body that is too long, for a moment: a connection that is closed before would be
    broken for the sender, who would never read why."""
    size = 0
    with suppress(TimeoutError):
        async with asyncio.timeout(REST_S):
            while size < BODY_MAX:
                message = await receive()
                size += len(message.get("body", b""))
                if not message.get("more_body", False):
                    return


def _replayed(body: bytes, receive: Receive) -> Receive:
    left: list[Message] = [{"type": "http.request", "body": body, "more_body": False}]

    async def receive_again() -> Message:
        return left.pop() if left else await receive()

    return receive_again


def _protected(send: Send) -> Send:
    async def send_protected(message: Message) -> None:
        if message["type"] in ("http.response.start", "websocket.http.response.start"):
            headers = message.get("headers", [])
            kept = [(name, value) for name, value in headers if name.lower() not in _OURS]
            if not any(name.lower() == b"cache-control" for name, _ in kept):
                kept.append(NO_STORE)
            sheet = (PROTECTION[0][0], SHEET_POLICY.encode())
            protection = (sheet, *PROTECTION[1:]) if sheet in headers else PROTECTION
            message = {**message, "headers": [*kept, *protection]}
        await send(message)

    return send_protected


async def refuse(scope: Message, receive: Receive, send: Send, refusal: Refusal) -> None:
    """Answer with the sentence; a socket is refused before its handshake, in the same words."""
    body = json.dumps({"detail": refusal.sentence, **({"key": refusal.key} if refusal.key else {})}).encode()
    headers = [(b"content-type", b"application/json"), (b"content-length", str(len(body)).encode())]
    if refusal.retry_s is not None:
        headers.append((b"retry-after", str(refusal.retry_s).encode()))
    if refusal.status in (408, 413, 431):
        headers.append((b"connection", b"close"))  # what is left of the request is not read
    if refusal is _TOO_LARGE:
        await _rest_of(receive)
    kind = "http.response"
    if scope["type"] == "websocket":
        kind = "websocket.http.response"
        await receive()  # the connect
    await send({"type": f"{kind}.start", "status": refusal.status, "headers": headers})
    await send({"type": f"{kind}.body", "body": body})
