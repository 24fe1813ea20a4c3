"""GET: where the board's sensors go on a type of motor, and whether those of a rig are there. Changes nothing."""

from dataclasses import asdict

from fastapi import APIRouter, HTTPException
from pydantic import BaseModel

from server.live.header import finding_record
from server.motors import motor_type
from server.motors.connections import CONNECTIONS
from server.rigs import Rigs
from server.web.models import Problem
from server.web.permissions import LOOK
from server.web.reading_api import NOT_FOUND, known_rig


class PointOut(BaseModel):
    """One point: sensor (voltage, current, pulse, hall) and place as the board's channels name them."""

    sensor: str
    place: str
    needed: bool
    where: str
    arrow: str
    makes: str


class ConnectionsOut(BaseModel):
    """All points of a type in reading order, and the cautions that come before them."""

    type: str
    label: str
    cautions: list[str]
    points: list[PointOut]


class FindingOut(BaseModel):
    """What the check says of one point; sensor and place empty where it is of all together. verdict: right, wrong or
    unknown (can't be told yet); change: what to change, or what would tell."""

    key: str
    sensor: str
    place: str
    verdict: str
    text: str
    change: str


class RigConnectionsOut(BaseModel):
    """How a rig's board is connected, as far as it was told."""

    rig: str
    findings: list[FindingOut]


def connections_routes(rigs: Rigs) -> APIRouter:
    """The routes that tell it."""
    routes = APIRouter(prefix="/api")

    @routes.get(
        "/motor-types/{type}/connections",
        response_model=ConnectionsOut,
        responses={404: {"model": Problem, "description": "There is no such type of motor."}},
        tags=["catalogue"],
        openapi_extra=LOOK,
    )
    async def connections(type: str) -> object:
        """Where probes, current sensors and pulse or Hall wires go, what each makes possible, and the cautions."""
        return connections_record(type)

    @routes.get(
        "/rigs/{name}/connections",
        response_model=RigConnectionsOut,
        responses=NOT_FOUND,
        tags=["rigs"],
        openapi_extra=LOOK,
    )
    async def findings(name: str) -> object:
        """What the check has told: sensors turned round, lines exchanged, dead and missing channels."""
        view = known_rig(rigs, name).view
        return {"rig": view.name, "findings": [finding_record(each) for each in view.concluded.findings]}

    return routes


def connections_record(key: str) -> dict[str, object]:
    """The connections of a type of motor; raises the 404 that says so."""
    motor = motor_type(key)
    if motor is None:
        raise HTTPException(404, f'There is no motor type "{key[:100]}".')
    known = CONNECTIONS[key]
    points = [asdict(point) for point in known.points]
    return {"type": key, "label": motor.label, "cautions": list(known.cautions), "points": points}
