"""GET /api/lines: a rig's readings, states, events and damage as JSON lines, for as long as somebody reads."""

from collections.abc import AsyncIterator

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import StreamingResponse

from server.access.entrance import Visitor
from server.live.bench import shown_unasked
from server.live.follower import Follower
from server.rig import Rig
from server.rigs import Rigs
from server.web.guard import VISITOR
from server.web.models import Problem
from server.web.permissions import LOOK
from server.web.reading_api import NOT_FOUND, known_rig

FOLLOWERS_MAX = 32
MEDIA_TYPE = "application/x-ndjson"


def lines_route(rigs: Rigs) -> APIRouter:
    """The one route."""
    routes = APIRouter(prefix="/api")
    following: set[Follower] = set()

    async def lines(rig: Rig, follower: Follower, visitor: Visitor) -> AsyncIterator[str]:
        try:
            while rigs.get(rig.name) is rig and not visitor.has_left:
                if text := await follower.next(rigs.utc_s()):
                    yield text
        finally:
            follower.close()
            following.discard(follower)

    @routes.get(
        "/lines",
        response_class=StreamingResponse,
        responses={
            **NOT_FOUND,
            200: {"content": {MEDIA_TYPE: {"schema": {"type": "string"}}}, "description": "One JSON object a line."},
            503: {"model": Problem, "description": "Too many are reading already."},
        },
        tags=["rigs"],
        openapi_extra=LOOK,
    )
    async def follow(request: Request, rig: str = "") -> StreamingResponse:
        """Live lines of a rig (without `rig`: of the one that the page opens on), each with its `kind`: described,
        readings, event, damage or mark. Fields are the keys of /api/quantities."""
        unasked = shown_unasked([each.view for each in rigs], rigs.utc_s())
        rig = rig or ("" if unasked is None else unasked.name)
        if not rig:
            raise HTTPException(404, "There is no rig yet; start one on the page or with slipring serve --demo.")
        chosen = known_rig(rigs, rig)
        if len(following) >= FOLLOWERS_MAX:
            raise HTTPException(503, f"{FOLLOWERS_MAX} programs are reading lines already; end one and try again.")
        follower = Follower(chosen.view)
        following.add(follower)
        return StreamingResponse(lines(chosen, follower, request.scope[VISITOR]), media_type=MEDIA_TYPE)

    return routes
