"""GET: where the board's sensors go on a type of motor. Changes nothing."""

from dataclasses import asdict

from fastapi import APIRouter, HTTPException
from pydantic import BaseModel

from server.motors import motor_type
from server.motors.connections import CONNECTIONS
from server.web.models import Problem


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


def connections_route() -> APIRouter:
    """The route that tells it."""
    routes = APIRouter(prefix="/api")

    @routes.get(
        "/motor-types/{type}/connections",
        response_model=ConnectionsOut,
        responses={404: {"model": Problem, "description": "There is no such type of motor."}},
        tags=["catalogue"],
    )
    async def connections(type: str) -> object:
        """Where probes, current sensors and pulse or Hall wires go, what each makes possible, and the cautions."""
        return connections_record(type)

    return routes


def connections_record(key: str) -> dict[str, object]:
    """The connections of a type of motor; raises the 404 that says so."""
    motor = motor_type(key)
    if motor is None:
        raise HTTPException(404, f'There is no motor type "{key[:100]}".')
    known = CONNECTIONS[key]
    points = [asdict(point) for point in known.points]
    return {"type": key, "label": motor.label, "cautions": list(known.cautions), "points": points}
