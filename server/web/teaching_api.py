"""A person changes wiring, faults and drive of a demo motor while it runs, and the model shows what follows.

Only rigs of the demo bench have this: their motor is equations in a child process, told over a pipe. A real board is
only listened to, and there is nothing here that could reach one. TEACHING.md is for who makes a page of it.
"""

from typing import Annotated, Any, TypeAlias

from fastapi import APIRouter, HTTPException
from fastapi.responses import JSONResponse
from pydantic import BaseModel, Field

from server.checking import Checking
from server.demo_board import DemoBoardError, RefusedSettingError
from server.rig import Rig
from server.rigs import Rigs
from server.web.judged import judged
from server.web.models import Problem
from server.web.permissions import LOOK, change
from server.web.reading_api import NOT_FOUND, Responses, known_rig
from server.web.settings_models import TEXT_MAX, Strict

SETTINGS_MAX = 64
DRIVE = "drive"  # what moves the shaft; every other setting is of wires and faults
TABLE = "controller_spacing_deg"  # of the drive; a person who looks at a real one says it in the guided check
Text: TypeAlias = Annotated[str, Field(max_length=TEXT_MAX)]
REAL = "{} is watched through a board, not played by one. Slipring only listens to it: nothing it sends drives a motor."
ANSWERS: Responses = {
    **NOT_FOUND,
    409: {"model": Problem, "description": "The rig has a real board, which nothing is ever told."},
    422: {"model": Problem, "description": "The software board does not take it; key says which setting is to blame."},
    503: {"model": Problem, "description": "The software board is still starting, has ended, or gave no answer."},
}


class TaughtValue(BaseModel):
    """One value that a setting can have; says is empty where the value says it all."""

    value: str
    says: str


class TaughtChoice(BaseModel):
    """One setting: either one of values, or a number from low to high."""

    key: str
    says: str
    values: list[TaughtValue] | None = None
    low: float | None = None
    high: float | None = None


class TaughtOut(BaseModel):
    """What holds on a demo motor. teaching: a person decides what happens, the stories stand still."""

    rig: str
    motor: str
    teaching: bool
    settings: dict[str, str | float]
    choices: list[TaughtChoice]


class SetIn(Strict):
    """Settings that change; those that are left out stay as they are."""

    settings: dict[Text, Text | float] = Field(min_length=1, max_length=SETTINGS_MAX)


def teaching_routes(rigs: Rigs, checking: Checking) -> APIRouter:
    """The routes of `/api/rigs/NAME/demo`."""
    routes = APIRouter(prefix="/api/rigs/{name}/demo", tags=["bench"])

    async def judge(name: str) -> None:
        _demo_rig(rigs, name)

    async def judge_change(name: str, wanted: SetIn) -> None:
        _demo_rig(rigs, name)

    @routes.get("", response_model=TaughtOut, responses=ANSWERS, openapi_extra=LOOK)
    async def ask(name: str) -> object:
        """What holds on this demo motor, and what can be set, in reading order."""
        return await _told(rigs, name, {"ask": True})

    @routes.put(
        "/settings",
        response_model=TaughtOut,
        responses=ANSWERS,
        openapi_extra=change("set on the demo motor of {name}: {settings}"),
    )
    @judged(judge_change)
    async def change_settings(name: str, wanted: SetIn) -> object:
        """Change settings; the stories stop, the motor does what its equations say. All of it is taken or nothing."""
        return await _told(rigs, name, {"set": wanted.settings}, checking if wanted.settings.keys() - {DRIVE} else None)

    @routes.post(
        "/stories",
        response_model=TaughtOut,
        responses=ANSWERS,
        openapi_extra=change("let the stories of the demo motor of {name} go on"),
    )
    @judged(judge)
    async def stories(name: str) -> object:
        """Everything is as it was, and the stories go on from their beginning."""
        return await _told(rigs, name, {"stories": True}, checking)

    return routes


def _demo_rig(rigs: Rigs, name: str) -> Rig:
    rig = known_rig(rigs, name)
    if not rig.demo:
        raise HTTPException(409, REAL.format(name))
    return rig


async def _told(rigs: Rigs, name: str, order: dict[str, Any], rewired: Checking | None = None) -> object:
    """What the software board answers. `rewired`: that has to forget what was turned with other wires."""
    rig = _demo_rig(rigs, name)
    try:
        answer = await rigs.tell_demo(name, order)
    except RefusedSettingError as error:
        return JSONResponse({"detail": str(error), **({"key": error.key} if error.key else {})}, 422)
    except (DemoBoardError, KeyError) as error:
        said = str(error) if isinstance(error, DemoBoardError) else f"The demo motor of {name} has been stopped."
        raise HTTPException(503, said) from None
    if rewired is not None:
        rewired.anew(rig.view)
        table_deg = answer["settings"].get(TABLE) if answer["teaching"] else None
        rewired.drive_table(rig.view, table_deg and (60 if table_deg <= 90 else 120))
    told = {key: answer[key] for key in ("teaching", "settings", "choices")}
    return {"rig": name, "motor": rig.view.demo_motor, **told}
