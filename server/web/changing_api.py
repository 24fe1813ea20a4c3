"""What changes something: rigs, their settings and runs, the demo. The guard has judged who asks."""

import asyncio
from dataclasses import replace

from fastapi import APIRouter, HTTPException

from server.config import MotorSettings, Plate, RigSettings
from server.demo_board import DemoBoardError
from server.rigs import Rigs
from server.web.models import (
    AskPort,
    NewRig,
    PortOut,
    Problem,
    RigNamed,
    RunAction,
    RunEnded,
    SettingsIn,
    StartDemo,
    StopDemo,
)
from server.web.reading_api import NOT_FOUND, Responses, known_rig, port_record, used_ports

REFUSED: Responses = {422: {"model": Problem, "description": "A value cannot be used; it says what to write."}}

DEMO_RIG: Responses = {409: {"model": Problem, "description": "A demo rig is not removed but stopped."}}


def changing_routes(rigs: Rigs, asking: asyncio.Lock) -> APIRouter:
    """All routes that change something. Each needs Content-Type: application/json and Slipring-Request: 1.

    `asking` is held while a port is open that is no rig's: a rig opens its own when those are closed again.
    """
    routes = APIRouter(prefix="/api")

    @routes.post("/rigs", response_model=RigNamed, status_code=201, responses=REFUSED, tags=["rigs"])
    async def new_rig(wanted: NewRig) -> object:
        """Write the settings file of a new rig and start it."""
        if rigs.get(wanted.name) is not None:
            raise HTTPException(409, f'There is a rig "{wanted.name}" already; choose another name.')
        async with asking:
            rig = await rigs.add(with_changes(RigSettings(wanted.name), wanted))
        return {"rig": rig.name}

    @routes.put("/rigs/{name}", response_model=RigNamed, responses={**NOT_FOUND, **REFUSED}, tags=["rigs"])
    async def change_rig(name: str, wanted: SettingsIn) -> object:
        """Change settings of a rig; what is left out stays. The file before the change is kept."""
        async with asking:
            rig = await rigs.change(name, with_changes(known_rig(rigs, name).settings, wanted))
        return {"rig": rig.name}

    @routes.delete("/rigs/{name}", response_model=RigNamed, responses={**NOT_FOUND, **DEMO_RIG}, tags=["rigs"])
    async def remove_rig(name: str) -> object:
        """Stop watching a rig and forget it. Its recordings stay, its settings file as NAME.toml.previous."""
        if known_rig(rigs, name).demo:
            raise HTTPException(409, f"{name} is a demo rig; stop its motor with /api/demo/stop.")
        await rigs.remove(name)
        return {"rig": name}

    @routes.post("/rigs/{name}/run", response_model=RunEnded, responses=NOT_FOUND, tags=["rigs"])
    async def act_on_run(name: str, wanted: RunAction) -> object:
        """End the run that is being recorded, and tell which; the next one opens by itself."""
        return {"rig": name, "run": known_rig(rigs, name).end_run() or None}

    @routes.post("/ports/look", response_model=list[PortOut], tags=["bench"])
    async def look_at_ports() -> object:
        """The serial ports of this PC and what each says. New ones are opened and asked, which takes some seconds."""
        async with asking:
            found = await asyncio.to_thread(rigs.search.found, used_ports(rigs))
        return [port_record(port) for port in found]

    @routes.post("/ports/ask", response_model=PortOut, tags=["bench"])
    async def ask_port(wanted: AskPort) -> object:
        """Open a port, ask who is there, close it again. Changes no settings; takes up to two seconds."""
        async with asking:
            return port_record(await asyncio.to_thread(rigs.search.ask, wanted.port, used_ports(rigs)))

    @routes.post("/demo/start", response_model=RigNamed, status_code=201, responses=REFUSED, tags=["bench"])
    async def start_demo(wanted: StartDemo) -> object:
        """Start a software board that plays a motor's stories, or one of them, and make a rig for it."""
        try:
            rig = await rigs.start_demo(wanted.motor, wanted.story, wanted.pace)
        except ValueError as error:
            raise HTTPException(422, str(error)) from None
        except (RuntimeError, DemoBoardError) as error:
            raise HTTPException(503, str(error)) from None
        return {"rig": rig.name}

    @routes.post("/demo/stop", response_model=RigNamed, responses=NOT_FOUND, tags=["bench"])
    async def stop_demo(wanted: StopDemo) -> object:
        """Stop a software board and its rig."""
        try:
            await rigs.stop_demo(wanted.rig)
        except KeyError:
            raise HTTPException(404, f'No demo motor runs on a rig "{wanted.rig}".') from None
        return {"rig": wanted.rig}

    return routes


def with_changes(settings: RigSettings, wanted: SettingsIn) -> RigSettings:
    """The settings with what was given. Whether the values make sense is judged where the file is written."""
    given = wanted.model_dump(exclude={"name", "motor"}, exclude_none=True)
    motor = settings.motor
    if wanted.motor is not None:
        plate = Plate(**wanted.motor.plate.model_dump())
        motor = MotorSettings(wanted.motor.name, wanted.motor.type, plate)
    return replace(settings, motor=motor, **given)
