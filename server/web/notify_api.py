"""Where alarms are sent to: how it goes with each receiver, and a test of it. No secret is in any answer."""

import asyncio

from fastapi import APIRouter, HTTPException
from pydantic import BaseModel

from server.alarms.notice import Rank
from server.alarms.quiet import receivers_of
from server.notify.trouble import SendError
from server.notify.worker import Standing
from server.rigs import Rigs
from server.web.models import Problem
from server.web.permissions import LOOK, PC
from server.web.reading_api import NOT_FOUND, Responses

TESTED: Responses = {
    **NOT_FOUND,
    502: {
        "model": Problem,
        "description": "The receiver could not be reached or did not take it; the sentence says why.",
    },
}


class ReceiverOut(BaseModel):
    """One receiver. promise: what it means that a message has left the outbox; everything: it gets all notices,
    whomever they name; error: why the last attempt failed."""

    name: str
    kind: str
    place: str
    promise: str
    everything: bool
    sign_of_life_min: float
    waiting: int
    waiting_since_utc_s: float | None
    dropped: int
    sent_utc_s: float | None
    error: str
    error_utc_s: float | None
    next_try_s: float | None


class ReceiversOut(BaseModel):
    """file: where they are set up; refusal: why that cannot be used; trouble: why messages are not on disk. Both are
    mostly empty. no_cautions: rigs whose cautions go to nobody, though there are receivers."""

    file: str
    refusal: str
    trouble: str
    no_cautions: list[str]
    receivers: list[ReceiverOut]


class TestedOut(BaseModel):
    """What came of a test, in a sentence."""

    said: str


def notify_routes(rigs: Rigs) -> APIRouter:
    """The routes of `/api/receivers`."""
    routes = APIRouter(prefix="/api/receivers", tags=["alarms"])

    @routes.get("", openapi_extra=LOOK)
    async def receivers() -> ReceiversOut:
        """Where alarms are sent to, and how it goes."""
        its = rigs.delivery
        standings = await asyncio.to_thread(its.standings)
        shown = [_shown(each) for each in standings]
        told = {"file": str(its.file), "refusal": its.refusal, "trouble": its.trouble}
        return ReceiversOut(**told, no_cautions=_no_cautions(rigs, standings), receivers=shown)

    @routes.post("/{name}/test", responses=TESTED, openapi_extra=PC)
    async def test(name: str) -> TestedOut:
        """Send a message that says it is a test; what came of it."""
        try:
            return TestedOut(said=await asyncio.to_thread(rigs.delivery.test, name))
        except KeyError:
            raise HTTPException(404, _unknown(name, rigs.delivery.refusal)) from None
        except SendError as error:
            raise HTTPException(502, str(error)) from None

    return routes


def _unknown(name: str, refusal: str) -> str:
    return refusal or f"There is no receiver {name[:40]}; notify.toml in the data folder names those that there are."


def _no_cautions(rigs: Rigs, standings: list[Standing]) -> list[str]:
    if not standings or any(each.everything for each in standings):
        return []
    known = {each.name for each in standings}
    return [
        rig.name for rig in rigs if not rig.demo and known.isdisjoint(receivers_of(rig.settings.calling, Rank.CAUTION))
    ]


def _shown(standing: Standing) -> ReceiverOut:
    its = standing.queue
    return ReceiverOut(
        name=standing.name,
        kind=standing.kind,
        place=standing.place,
        promise=standing.promise,
        everything=standing.everything,
        sign_of_life_min=standing.sign_of_life_min,
        waiting=its.count,
        waiting_since_utc_s=its.oldest_utc_s,
        dropped=its.dropped,
        sent_utc_s=standing.sent_utc_s,
        error=standing.error,
        error_utc_s=standing.error_utc_s,
        next_try_s=standing.next_try_s,
    )
