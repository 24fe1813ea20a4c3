"""The door over HTTP: entering by a link, pairing by a code, sessions, and the PC's answers to what devices ask for."""

import asyncio
import time
from collections.abc import Callable
from typing import Annotated

import segno
from fastapi import APIRouter, HTTPException, Request, Response
from pydantic import BaseModel, Field

from server.access.entrance import Entrance, Visitor
from server.access.permission import BY_ITSELF, Kind, Permission
from server.access.sessions import NotKeptError, Session, TooManyDevicesError
from server.access.slowing import WRONG_MAX
from server.web.guard import SERVED, VISITOR
from server.web.models import Problem
from server.web.origin import Served
from server.web.permissions import LOOK, OPEN, PC
from server.web.reading_api import Responses
from server.web.settings_models import Strict
from server.web.token import new_cookie, no_cookie

REFUSED: Responses = {
    403: {"model": Problem, "description": "The link or code is not right, used, or too old."},
    429: {"model": Problem, "description": "Too many wrong ones came; it says how long to wait."},
}
NO_SESSION: Responses = {404: {"model": Problem, "description": "There is no such session."}}
NO_BENCH: Responses = {409: {"model": Problem, "description": "The service is not open to the bench network."}}
NO_QUESTION: Responses = {404: {"model": Problem, "description": "The question waits no more."}}
_WHO = {Kind.BROWSER: "a browser of this PC", Kind.DEVICE: "a paired device", Kind.SCRIPT: "a script of this PC"}
_SQUARE_ERROR = "m"  # 15 % of it may be dirty or covered (ISO/IEC 18004, from memory)


class EnterIn(Strict):
    """The secret of a one-time link."""

    link: str = Field(max_length=200)


class PairIn(Strict):
    """The code that the PC shows, and what the device is to be called."""

    code: str = Field(max_length=40)
    name: str = Field("", max_length=200)


class AnswerIn(Strict):
    accept: bool


class DoorOut(BaseModel):
    come_in: bool


class SessionOut(BaseModel):
    """One that has come in. may: what it may do by itself; kind: browser or device."""

    number: int
    kind: str
    name: str
    source: str
    made_utc_s: float
    used_utc_s: float
    may: list[str]


class OwnOut(BaseModel):
    """Who asks. bench: by the bench network; encrypted: nobody on the way reads along."""

    kind: str
    name: str
    number: int | None
    may: list[str]
    bench: bool
    encrypted: bool


class LinkOut(BaseModel):
    """A link that opens the page once, within an hour."""

    link: str


class PairingOut(BaseModel):
    """url is empty where the service is not open to the bench network; fingerprint where it is, but not encrypted.
    open_s: how long a code holds still."""

    url: str
    fingerprint: str
    open_s: float


class CodeOut(PairingOut):
    """code: as a person types it; square: the same as a square code, rows of 0 and 1, without its margin."""

    code: str
    square: list[str]


class QuestionOut(BaseModel):
    """What a device asks for; left_s: how long it waits still."""

    number: int
    device: str
    act: str
    left_s: float


class SessionEnded(BaseModel):
    number: int


def access_routes(entrance: Entrance) -> APIRouter:
    """All routes of the door."""
    routes = APIRouter(prefix="/api", tags=["who may come in"])

    @routes.get("/door", response_model=DoorOut, openapi_extra=OPEN)
    async def door(request: Request) -> object:
        """Whether whoever asks is in already."""
        return {"come_in": request.scope[VISITOR] is not None}

    @routes.post("/enter", response_model=OwnOut, responses=REFUSED, openapi_extra=OPEN)
    async def enter(wanted: EnterIn, request: Request, response: Response) -> object:
        """Exchange a one-time link for a session in a cookie; on this PC only."""
        served: Served = request.scope[SERVED]
        if _is_bench(entrance, served):
            raise HTTPException(403, "A link opens the page on the PC itself; another device is paired by a code.")
        _look_at_guess(entrance, request, "links", lambda now_s: entrance.links.take(wanted.link, now_s))
        return _let_in(entrance, request, response, Kind.BROWSER, _browser(request))

    @routes.post("/pair", response_model=OwnOut, responses={**REFUSED, **NO_BENCH}, openapi_extra=OPEN)
    async def pair(wanted: PairIn, request: Request, response: Response) -> object:
        """Exchange the code that the PC shows for a session in a cookie."""
        if not _is_bench(entrance, request.scope[SERVED]):
            raise HTTPException(409, "This is the PC itself; slipring link prints a link that opens the page here.")
        _look_at_guess(entrance, request, "codes", lambda now_s: entrance.pairing.take(wanted.code, now_s))
        return _let_in(entrance, request, response, Kind.DEVICE, wanted.name)

    @routes.get("/session", response_model=OwnOut, openapi_extra=LOOK)
    async def own(request: Request) -> object:
        """Who asks, and what that may do by itself."""
        return own_record(entrance, request.scope[VISITOR], request.scope[SERVED])

    @routes.delete("/session", response_model=SessionEnded, responses=NO_SESSION, openapi_extra=LOOK)
    async def leave(request: Request, response: Response) -> object:
        """End the session of whoever asks."""
        session = request.scope[VISITOR].session
        if session is None:
            raise HTTPException(404, "A script has no session; its token stays.")
        response.headers["set-cookie"] = no_cookie(request.scope[SERVED])
        return {"number": _ended(entrance, session.number).number}

    @routes.get("/sessions", response_model=list[SessionOut], openapi_extra=PC)
    async def sessions() -> object:
        """Browsers of this PC and paired devices, the newest first."""
        return [session_record(each) for each in entrance.sessions]

    @routes.delete("/sessions/{number}", response_model=SessionEnded, responses=NO_SESSION, openapi_extra=PC)
    async def end(number: int) -> object:
        """End one: its sockets close at once, and it must be paired or let in anew."""
        return {"number": _ended(entrance, number).number}

    @routes.post("/links", response_model=LinkOut, status_code=201, openapi_extra=PC)
    async def link(request: Request) -> object:
        """A new one-time link for a browser of this PC."""
        return {"link": link_of(request.scope[SERVED].url, entrance.links.make(time.monotonic()))}

    @routes.get("/pairing", response_model=PairingOut, openapi_extra=PC)
    async def pairing() -> object:
        """Where other devices find the service, and whether a code holds."""
        return _pairing_record(entrance)

    @routes.post("/pairing", response_model=CodeOut, status_code=201, responses=NO_BENCH, openapi_extra=PC)
    async def begin_pairing() -> object:
        """A new code for one device, for five minutes. The one before holds no more."""
        if entrance.bench is None:
            raise HTTPException(
                409, "The service is not open to the bench network; start it with --bench-network ADDRESS."
            )
        code = entrance.pairing.begin(time.monotonic())
        square = segno.make(f"{entrance.bench.url}enter#{code.text}", error=_SQUARE_ERROR, micro=False)
        rows = ["".join(str(int(module)) for module in row) for row in square.matrix]
        return {**_pairing_record(entrance), "code": code.text, "square": rows}

    @routes.delete("/pairing", response_model=PairingOut, openapi_extra=PC)
    async def end_pairing() -> object:
        """No code holds any more."""
        entrance.pairing.end()
        return _pairing_record(entrance)

    @routes.get("/consents", response_model=list[QuestionOut], openapi_extra=PC)
    async def consents() -> object:
        """What paired devices ask for and nobody has answered."""
        return questions(entrance, None)

    @routes.post("/consents/{number}", response_model=SessionEnded, responses=NO_QUESTION, openapi_extra=PC)
    async def answer(number: Annotated[int, "of the question"], wanted: AnswerIn) -> object:
        """Agree, or refuse."""
        if not entrance.consents.answer(number, wanted.accept):
            raise HTTPException(404, "This question waits no more: it was answered, or its minute is over.")
        return {"number": number}

    return routes


def link_of(url: str, secret: str) -> str:
    """The secret stands in the fragment, which no browser sends and no log holds."""
    return f"{url}enter#{secret}"


def own_record(entrance: Entrance, visitor: Visitor, served: Served) -> dict[str, object]:
    """Who asks, as the page is told."""
    session = visitor.session
    return {
        "kind": visitor.kind,
        "name": _WHO[visitor.kind] if session is None else session.name,
        "number": None if session is None else session.number,
        "may": _may(visitor.kind),
        "bench": _is_bench(entrance, served),
        "encrypted": served.encrypted,
    }


def session_record(session: Session) -> dict[str, object]:
    """One session as the PC sees it."""
    return {
        "number": session.number,
        "kind": session.kind,
        "name": session.name,
        "source": session.source,
        "made_utc_s": session.made_utc_s,
        "used_utc_s": session.used_utc_s,
        "may": _may(session.kind),
    }


def questions(entrance: Entrance, device: Session | None) -> list[dict[str, object]]:
    """What waits for an answer, of one device or of all, the oldest first."""
    now_s = asyncio.get_running_loop().time()
    return [
        {"number": each.number, "device": each.device.name, "act": each.act, "left_s": max(0.0, each.until_s - now_s)}
        for each in entrance.consents
        if device is None or each.device is device
    ]


def _may(kind: Kind) -> list[str]:
    return [each for each in Permission if each in BY_ITSELF[kind] and each is not Permission.OPEN]


def _is_bench(entrance: Entrance, served: Served) -> bool:
    return entrance.bench is not None and served.names == entrance.bench.names


def _pairing_record(entrance: Entrance) -> dict[str, object]:
    bench, open_s = entrance.bench, entrance.pairing.open_s(time.monotonic())
    if bench is None:
        return {"url": "", "fingerprint": "", "open_s": 0.0}
    return {"url": bench.url, "fingerprint": bench.fingerprint, "open_s": open_s}


def _look_at_guess(entrance: Entrance, request: Request, what: str, take: Callable[[float], bool]) -> None:
    """A right one is taken, and passes, only where not too many were wrong before."""
    source, now_s = request.client.host if request.client else "", time.monotonic()
    if wait_s := entrance.guessing.wait_s(source, now_s):
        sentence = f"{WRONG_MAX} wrong {what} came in a minute; wait {wait_s} s."
        raise HTTPException(429, sentence, {"Retry-After": str(wait_s)})
    if not take(now_s):
        entrance.guessing.was_wrong(source, now_s)
        raise HTTPException(403, f"This is none of the {what} that hold: it is wrong, was used, or is too old.")


def _let_in(entrance: Entrance, request: Request, response: Response, kind: Kind, name: str) -> dict[str, object]:
    served: Served = request.scope[SERVED]
    source = request.client.host if request.client else ""
    try:
        session, token = entrance.sessions.open(kind, name, source)
    except TooManyDevicesError as error:
        raise HTTPException(409, f"{error}.") from None
    response.headers["set-cookie"] = new_cookie(served, token)
    return own_record(entrance, Visitor(kind, session), served)


def _browser(request: Request) -> str:
    """A short word for the browser, from what it says of itself."""
    said = request.headers.get("user-agent", "")
    known = ("Firefox", "Edg", "OPR", "Chrome", "Safari")
    found = next((word for word in known if f"{word}/" in said), "")
    return {"Edg": "Edge", "OPR": "Opera", "": "a browser"}.get(found, found)


def _ended(entrance: Entrance, number: int) -> Session:
    try:
        session = entrance.sessions.end(number)
    except NotKeptError as error:
        raise HTTPException(503, f"It has ended, but {error}: at the next start it would hold again.") from None
    if session is None:
        raise HTTPException(404, f"There is no session {number}.")
    return session
