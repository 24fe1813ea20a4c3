"""What changes something: rigs, their settings and runs, the demo. The guard has judged who asks."""

import asyncio
from dataclasses import fields, replace
from typing import Any

from fastapi import APIRouter, HTTPException

from server.config import (
    AlarmSettings,
    Calling,
    ChannelSettings,
    ConfigError,
    Limit,
    MotorSettings,
    Plate,
    RigSettings,
    Space,
    Wires,
)
from server.demo_board import DemoBoardError
from server.rigs import Rigs
from server.web.judged import judged
from server.web.models import AskPort, PortOut, Problem, RigNamed, RunAction, RunEnded, StartDemo, StopDemo
from server.web.permissions import change
from server.web.reading_api import NOT_FOUND, Responses, known_rig, port_record, used_ports
from server.web.settings_models import ChangedSettings, NewRig, SettingsIn

REFUSED: Responses = {422: {"model": Problem, "description": "A value cannot be used; it says what to write."}}

DEMO_RIG: Responses = {409: {"model": Problem, "description": "A demo rig is not removed but stopped."}}


_FIELDS = {field.name for field in fields(RigSettings)}


def changing_routes(rigs: Rigs, asking: asyncio.Lock) -> APIRouter:
    """All routes that change something. Each needs Content-Type: application/json and Slipring-Request: 1.

    `asking` is held while a port is open that is no rig's: a rig opens its own when those are closed again.
    """
    routes = APIRouter(prefix="/api")
    _add_rigs(routes, rigs, asking)
    _add_bench(routes, rigs, asking)
    return routes


def _add_rigs(routes: APIRouter, rigs: Rigs, asking: asyncio.Lock) -> None:
    """Rigs, their settings and their runs."""

    async def judge_new(wanted: NewRig) -> None:
        if rigs.get(wanted.name) is not None:
            raise HTTPException(409, f'There is a rig "{wanted.name}" already; choose another name.')
        await rigs.judge(with_changes(RigSettings(wanted.name), wanted))

    async def judge_change(name: str, wanted: ChangedSettings) -> None:
        await rigs.judge(with_changes(known_rig(rigs, name).settings, wanted), name)

    async def judge_undo(name: str) -> None:
        known_rig(rigs, name)
        if not rigs.files.can_undo(name):
            raise ConfigError("", None, f"nothing was changed in the settings of {name}", "there is nothing to undo")

    async def judge_removal(name: str) -> None:
        if known_rig(rigs, name).demo:
            raise HTTPException(409, f"{name} is a demo rig; stop its motor with /api/demo/stop.")

    async def judge_run(name: str, wanted: RunAction) -> None:
        known_rig(rigs, name)

    @routes.post(
        "/rigs",
        response_model=RigNamed,
        status_code=201,
        responses=REFUSED,
        tags=["rigs"],
        openapi_extra=change("add the rig {name} at {port}"),
    )
    @judged(judge_new)
    async def new_rig(wanted: NewRig) -> object:
        """Write the settings file of a new rig and start it."""
        if rigs.get(wanted.name) is not None:
            raise HTTPException(409, f'There is a rig "{wanted.name}" already; choose another name.')
        async with asking:
            rig = await rigs.add(with_changes(RigSettings(wanted.name), wanted))
        return {"rig": rig.name}

    @routes.put(
        "/rigs/{name}",
        response_model=RigNamed,
        responses={**NOT_FOUND, **REFUSED},
        tags=["rigs"],
        openapi_extra=change("change settings of the rig {name}: {keys}"),
    )
    @judged(judge_change)
    async def change_rig(name: str, wanted: ChangedSettings) -> object:
        """Change settings of a rig; what is left out stays. The file before the change is kept."""
        async with asking:
            rig = known_rig(rigs, name)
            if not rig.demo:
                await rigs.look_at_file(name)  # what a person has just written there stays too
            rig = await rigs.change(name, with_changes(rig.settings, wanted))
        return {"rig": rig.name}

    @routes.post(
        "/rigs/{name}/undo",
        response_model=RigNamed,
        responses={**NOT_FOUND, **REFUSED},
        tags=["rigs"],
        openapi_extra=change("take the last change of the rig {name} back"),
    )
    @judged(judge_undo)
    async def undo(name: str) -> object:
        """The settings file before the last change holds again; asked again, the change does."""
        async with asking:
            known_rig(rigs, name)
            return {"rig": (await rigs.undo(name)).name}

    @routes.delete(
        "/rigs/{name}",
        response_model=RigNamed,
        responses={**NOT_FOUND, **DEMO_RIG},
        tags=["rigs"],
        openapi_extra=change("remove the rig {name}"),
    )
    @judged(judge_removal)
    async def remove_rig(name: str) -> object:
        """Stop watching a rig and forget it. Its recordings stay, its settings file as NAME.toml.previous."""
        await judge_removal(name)
        await rigs.remove(name)
        return {"rig": name}

    @routes.post(
        "/rigs/{name}/run",
        response_model=RunEnded,
        responses=NOT_FOUND,
        tags=["rigs"],
        openapi_extra=change("end the run of {name}"),
    )
    @judged(judge_run)
    async def act_on_run(name: str, wanted: RunAction) -> object:
        """End the run that is being recorded, and tell which; the next one opens by itself."""
        return {"rig": name, "run": known_rig(rigs, name).end_run() or None}


def _add_bench(routes: APIRouter, rigs: Rigs, asking: asyncio.Lock) -> None:
    """Ports, and software boards."""

    async def judge_start(wanted: StartDemo) -> None:
        try:
            await rigs.demo_list.check(wanted.motor, wanted.story)
        except ValueError as error:
            raise HTTPException(422, str(error)) from None
        except DemoBoardError as error:
            raise HTTPException(503, str(error)) from None

    async def judge_stop(wanted: StopDemo) -> None:
        if wanted.rig not in rigs.demos():
            raise HTTPException(404, f'No demo motor runs on a rig "{wanted.rig}".')

    @routes.post(
        "/ports/look",
        response_model=list[PortOut],
        tags=["bench"],
        openapi_extra=change("open the serial ports of the PC and ask who is there"),
    )
    async def look_at_ports() -> object:
        """The serial ports of this PC and what each says. New ones are opened and asked, which takes some seconds."""
        async with asking:
            found = await asyncio.to_thread(rigs.search.found, used_ports(rigs))
        return [port_record(port) for port in found]

    @routes.post(
        "/ports/ask",
        response_model=PortOut,
        tags=["bench"],
        openapi_extra=change("open the port {port} and ask who is there"),
    )
    async def ask_port(wanted: AskPort) -> object:
        """Open a port, ask who is there, close it again. Changes no settings; takes up to two seconds."""
        async with asking:
            return port_record(await asyncio.to_thread(rigs.search.ask, wanted.port, used_ports(rigs)))

    @routes.post(
        "/demo/start",
        response_model=RigNamed,
        status_code=201,
        responses=REFUSED,
        tags=["bench"],
        openapi_extra=change("start the demo motor {motor}"),
    )
    @judged(judge_start)
    async def start_demo(wanted: StartDemo) -> object:
        """Start a software board that plays a motor's stories, or one of them, and make a rig for it."""
        try:
            rig = await rigs.start_demo(wanted.motor, wanted.story, wanted.pace)
        except ValueError as error:
            raise HTTPException(422, str(error)) from None
        except (RuntimeError, DemoBoardError) as error:
            raise HTTPException(503, str(error)) from None
        return {"rig": rig.name}

    @routes.post(
        "/demo/stop",
        response_model=RigNamed,
        responses=NOT_FOUND,
        tags=["bench"],
        openapi_extra=change("stop the demo motor of {rig}"),
    )
    async def stop_demo(wanted: StopDemo) -> object:
        """Stop a software board and its rig."""
        try:
            await rigs.stop_demo(wanted.rig)
        except KeyError:
            raise HTTPException(404, f'No demo motor runs on a rig "{wanted.rig}".') from None
        return {"rig": wanted.rig}


def with_changes(settings: RigSettings, wanted: SettingsIn) -> RigSettings:
    """The settings with what was given. Whether the values make sense is judged where the file is written."""
    usual = RigSettings(settings.name)
    given: dict[str, Any] = {
        key: getattr(usual, key) if (value := getattr(wanted, key)) is None else _record(key, value)
        for key in wanted.model_fields_set
        if key in _FIELDS
    }
    return replace(settings, **given)


def _record(key: str, value: Any) -> Any:
    """What came in as the record that the settings hold."""
    if key == "motor":
        return MotorSettings(value.name, value.type, Plate(**value.plate.model_dump()))
    if key == "channels":
        return tuple(ChannelSettings(channel, **said.model_dump()) for channel, said in value.items())
    if key == "limits":
        return tuple(Limit(reading, **said.model_dump()) for reading, said in value.items())
    if key == "alarms":
        return tuple(AlarmSettings(name, **said.model_dump()) for name, said in value.items())
    if key == "calling":
        return Calling(**value.model_dump())
    if key == "space":
        return Space(**value.model_dump())
    if key == "wires":
        return Wires(**value.model_dump())
    return value
