"""Whether all is well, for whoever watches the service itself: a word with its reasons, and numbers for a monitor."""

import asyncio

from fastapi import APIRouter
from fastapi.responses import JSONResponse, Response
from pydantic import BaseModel

import server
from server.alarms.judging import ROOM_LEAST_S
from server.all_alarms import AllAlarms
from server.live.records import ConnectionState, RecordingState
from server.notify.worker import Standing
from server.rigs import Rigs
from server.web.metrics import Metrics
from server.web.permissions import LOOK
from server.web.reading_api import Responses

OPEN_METRICS = "application/openmetrics-text; version=1.0.0; charset=utf-8"
_NUMBERS: Responses = {200: {"content": {OPEN_METRICS: {"schema": {"type": "string"}}}}}
_ILL: Responses = {503: {"description": "Something of the service itself is not well; troubles says what."}}


class HealthOut(BaseModel):
    """troubles: what a person must look at, each in a sentence; empty: all is well. A motor's alarms are none of it."""

    well: bool
    version: str
    started_utc_s: float
    troubles: list[str]


def health_routes(rigs: Rigs, alarms: AllAlarms) -> APIRouter:
    """`/api/health` and `/metrics`."""
    routes = APIRouter(tags=["health"])
    started_utc_s = rigs.utc_s()

    @routes.get("/api/health", response_model=HealthOut, responses=_ILL, openapi_extra=LOOK)
    async def health() -> JSONResponse:
        """Whether boards are there, runs are recorded, with room, and alarms reach their receivers; 503 where not."""
        troubles = _troubles(rigs, alarms, await asyncio.to_thread(rigs.delivery.standings))
        told = HealthOut(
            well=not troubles, version=server.VERSION, started_utc_s=started_utc_s, troubles=troubles
        ).model_dump()
        return JSONResponse(told, 503 if troubles else 200)

    @routes.get("/metrics", response_class=Response, responses=_NUMBERS, openapi_extra=LOOK)
    async def metrics() -> Response:
        """The same as numbers, and more, as OpenMetrics."""
        standings = await asyncio.to_thread(rigs.delivery.standings)
        return Response(Metrics(rigs, alarms, standings, started_utc_s).text(), media_type=OPEN_METRICS)

    return routes


def _troubles(rigs: Rigs, alarms: AllAlarms, standings: list[Standing]) -> list[str]:
    found = []
    for rig in rigs:
        connection, recording = rig.view.connected(rigs.utc_s()), rig.view.recorded()
        if connection.state is ConnectionState.TOO_OLD:
            found.append(f"{rig.name}: its port is open and no samples come")
        elif connection.state.is_bad and connection.state is not ConnectionState.STALE:  # a breath that is soon over
            found.append(f"{rig.name}: {connection.text or connection.state.value}")
        if recording.state is RecordingState.FAILED:
            found.append(f"Samples of {rig.name} are not recorded: {recording.reason}")
        elif recording.room_s is not None and recording.room_s < ROOM_LEAST_S:
            found.append(f"{rig.name}: the disk has room for {recording.room_s / 60.0:.0f} min of recording; make room")
    found += rigs.recorded.troubles.values() if rigs.recorded else ()
    found += [rigs.clock.trouble] if rigs.clock.trouble else ()
    found += [f"{rig}: {trouble}" for rig, trouble in alarms.troubles().items()]
    found += [f"{its.name}: {its.error}" for its in standings if its.error]
    return found + [trouble for trouble in (rigs.delivery.refusal, rigs.delivery.trouble) if trouble]
