"""GET: what there is to know of rigs, ports and catalogue. Changes nothing."""

from dataclasses import asdict
from typing import Any, TypeAlias

from fastapi import APIRouter, HTTPException

from server.all_alarms import AllAlarms
from server.config import AlarmSettings, RigSettings
from server.demo_board import DemoBoardError
from server.demo_list import DemoMotor
from server.demo_rigs import Played
from server.ingest.found_ports import FoundPort
from server.live.bench import bench_record
from server.live.header import connection_record, motor_record, recording_record
from server.live.latest import Known
from server.live.records import ConnectionState
from server.live.view import View
from server.motors import MOTOR_TYPES
from server.quantities import QUANTITIES, why_unknown
from server.rig import Rig
from server.rigs import Rigs
from server.samples import Channel
from server.web.models import (
    BudgetOut,
    DemoMotorOut,
    EventOut,
    MotorTypeOut,
    Problem,
    QuantityOut,
    ReadingsOut,
    RigLine,
    RigOut,
)
from server.web.permissions import LOOK

Responses: TypeAlias = dict[int | str, dict[str, Any]]

NO_DEMO: Responses = {503: {"model": Problem, "description": "The demo bench cannot be asked; it says why."}}
NOT_FOUND: Responses = {404: {"model": Problem, "description": "There is no such rig."}}


def known_rig(rigs: Rigs, name: str) -> Rig:
    """The rig of that name; raises the 404 that says so."""
    rig = rigs.get(name)
    if rig is None:
        there = ", ".join(each.name for each in rigs) or "none yet"
        raise HTTPException(404, f'There is no rig "{name[:100]}"; there are: {there}.')
    return rig


def known_view(rigs: Rigs, name: str) -> View:
    """What is seen of the rig of that name, or of the run that is played; raises the 404 that says so."""
    play = None if rigs.recorded is None else rigs.recorded.playing(name)
    return known_rig(rigs, name).view if play is None else play.view


def reading_routes(rigs: Rigs, alarms: AllAlarms) -> APIRouter:
    """All routes that read."""
    routes = APIRouter(prefix="/api")
    _add_rigs(routes, rigs, alarms)
    _add_catalogue(routes, rigs)
    return routes


def _add_rigs(routes: APIRouter, rigs: Rigs, alarms: AllAlarms) -> None:
    """Rigs, what they read and what happened."""

    @routes.get("/rigs", response_model=list[RigLine], tags=["rigs"], openapi_extra=LOOK)
    async def list_of_rigs() -> object:
        """All rigs, the worst first."""
        return bench_record([rig.view for rig in rigs], rigs.utc_s(), alarms.standing())

    @routes.get("/rigs/{name}", response_model=RigOut, responses=NOT_FOUND, tags=["rigs"], openapi_extra=LOOK)
    async def one_rig(name: str) -> object:
        """Settings, board, connection and recording of one rig."""
        return rig_record(rigs, known_rig(rigs, name))

    @routes.get(
        "/rigs/{name}/readings",
        response_model=ReadingsOut,
        response_model_exclude_unset=True,
        responses=NOT_FOUND,
        tags=["rigs"],
        openapi_extra=LOOK,
    )
    async def readings(name: str) -> object:
        """The newest readings, each with its confidence, its moment, and what age has made of it."""
        view, service_utc_s = known_view(rigs, name), rigs.utc_s()
        return {
            "rig": view.name,
            "now_utc_s": view.time.of(service_utc_s),
            "sample_utc_s": view.sample_utc_s,
            "state_since_utc_s": view.state_since_utc_s,
            "readings": view.readings(service_utc_s),
        }

    @routes.get(
        "/rigs/{name}/readings/{reading_id}",
        response_model=BudgetOut,
        responses=NOT_FOUND,
        tags=["rigs"],
        openapi_extra=LOOK,
    )
    async def one_reading(name: str, reading_id: str) -> object:
        """What a reading is made of: its definition, its window, and what each source adds to its uncertainty."""
        view = known_view(rigs, name)
        known = view.latest.known(reading_id)
        if known is None:
            raise HTTPException(404, f"The rig {name} has no reading {reading_id[:80]}.")
        return budget_record(known, view.health.channels)

    @routes.get(
        "/rigs/{name}/events", response_model=list[EventOut], responses=NOT_FOUND, tags=["rigs"], openapi_extra=LOOK
    )
    async def events(name: str) -> object:
        """What happened, newest first, the last 40."""
        return list(known_view(rigs, name).events)


def _add_catalogue(routes: APIRouter, rigs: Rigs) -> None:
    """What there is, whatever is connected."""

    @routes.get("/demo", response_model=list[DemoMotorOut], responses=NO_DEMO, tags=["bench"], openapi_extra=LOOK)
    async def demo() -> object:
        """The motors of the demo bench and their stories: software boards, no hardware."""
        try:
            motors = await rigs.demo_list.motors()
        except DemoBoardError as error:
            raise HTTPException(503, str(error)) from None
        return [demo_record(motor, rigs.demos()) for motor in motors]

    @routes.get("/motor-types", response_model=list[MotorTypeOut], tags=["catalogue"], openapi_extra=LOOK)
    async def motor_types() -> object:
        """The types of motors that are known."""
        return [{"type": each.key, "label": each.label, "supply": each.supply.value} for each in MOTOR_TYPES]

    @routes.get("/quantities", response_model=list[QuantityOut], tags=["catalogue"], openapi_extra=LOOK)
    async def quantities() -> object:
        """What each key of a reading means."""
        return [asdict(quantity) for quantity in QUANTITIES]


def rig_record(rigs: Rigs, rig: Rig) -> dict[str, object]:
    """One rig as `GET /api/rigs/NAME` tells it."""
    view = rig.view
    connection = view.connected(rigs.utc_s())
    return {
        "name": rig.name,
        "demo": rig.demo,
        "file": "" if rig.demo else str(rigs.files.file(rig.name) or ""),
        "refusal": rig.refusal,
        "undo": not rig.demo and rigs.files.can_undo(rig.name),
        "settings": settings_record(rig.settings),
        "motor": motor_record(view.motor),
        "connection": connection_record(connection),
        "recording": recording_record(view.recorded()),
        "board": view.board_record(),
        "damage": view.health.damage(connection.state is ConnectionState.LIVE),
    }


def budget_record(known: Known, channels: tuple[Channel, ...]) -> dict[str, object]:
    """A reading with the words of the catalogue and its budget, largest part first; the board's `channels`."""
    reading, quantity = known.reading, next(each for each in QUANTITIES if each.key == known.reading.key)
    uncertainty = reading.uncertainty
    parts = sorted(uncertainty.parts, key=lambda part: -part[1]) if uncertainty else []
    return {
        "id": reading.id,
        "quantity": asdict(quantity),
        "window_s": known.interval_s,
        "at_utc_s": known.at_utc_s,
        "coverage_factor": uncertainty.coverage_factor if uncertainty else None,
        "parts": [{"source": source, "standard": standard} for source, standard in parts],
        "why_not": why_unknown(reading, channels),
    }


def settings_record(settings: RigSettings) -> dict[str, object]:
    """The settings as they hold, channels and limits by their names."""
    return {
        **asdict(settings),
        "channels": {each.channel: {"role": each.role, "place": each.place} for each in settings.channels},
        "limits": {each.reading: {"low": each.low, "high": each.high} for each in settings.limits},
        "alarms": {each.name: _without_name(each) for each in settings.alarms},
    }


def demo_record(motor: DemoMotor, demos: dict[str, Played]) -> dict[str, object]:
    """A motor of the demo bench as the page and scripts see it."""
    return {
        "motor": motor.key,
        "name": motor.name,
        "about": motor.says,
        "type": motor.type,
        "stories": [asdict(story) for story in motor.stories],
        "running": [
            {"rig": rig, "story": played.story, "pace": played.pace}
            for rig, played in demos.items()
            if played.motor == motor.key
        ],
    }


def used_ports(rigs: Rigs) -> dict[str, str]:
    """Port -> rig: what nobody else asks. The pty of a software board that ended may be another program's by now."""
    ended = ConnectionState.ENDED
    return {rig.settings.port: rig.name for rig in rigs if rig.settings.port and rig.view.connection.state is not ended}


def port_record(port: FoundPort) -> dict[str, object]:
    """One port as `POST /api/ports/look` tells it."""
    usable, board = port.kind not in ("refused", "used"), port.kind == "board"
    return {"port": port.stable or port.port, "says": port.says, "usable": usable, "board": board}


def _without_name(its: AlarmSettings) -> dict[str, object]:
    return {key: value for key, value in asdict(its).items() if key != "name"}
