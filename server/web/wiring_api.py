"""The Wiring screen and its guided check over HTTP, and the checks that are kept with runs. The guard has judged who
asks."""

import asyncio
from collections.abc import Awaitable
from dataclasses import replace
from pathlib import Path
from typing import Any, TypeVar

from fastapi import APIRouter, HTTPException
from fastapi.responses import HTMLResponse

from server.checking import Checking, NothingToKeepError, TooSoonError
from server.config import ConfigError
from server.live.view import View
from server.procedures.hall_records import Act, Answers, Told
from server.procedures.sheet import sheet, summary
from server.rigs import Rigs
from server.runs.beside import read_json
from server.runs.checks import CHECKS_MAX, DeletedCheck, check_numbers, deleted_checks, read_check
from server.web.guard import SHEET_POLICY
from server.web.judged import judged
from server.web.models import Problem
from server.web.permissions import LOOK, MARK, change
from server.web.reading_api import NOT_FOUND, Responses, known_rig, known_view
from server.web.wiring_models import ActIn, CheckLine, DeletedCheckLine, KeptCheckOut, NamesIn
from server.wiring.names import Names
from server.wiring.trying import Showed

T = TypeVar("T")
NOTHING: Responses = {409: {"model": Problem, "description": "Nothing to keep, no run, or too many; it says why."}}
TOO_SOON: Responses = {429: {"model": Problem, "description": "One of this rig was kept just now; it says how long."}}
FULL: Responses = {409: {"model": Problem, "description": "As many are kept with the run as may be."}}
NO_CHECK: Responses = {404: {"model": Problem, "description": "There is no such run or check."}}


def wiring_routes(rigs: Rigs, checking: Checking, asking: asyncio.Lock) -> APIRouter:
    """All routes about the wiring. `asking`: as `changing_routes`, since names go into the settings."""
    routes = APIRouter(prefix="/api", tags=["wiring"])
    _add_check(routes, rigs, checking, asking)
    _add_kept(routes, rigs, checking)
    return routes


def _add_check(routes: APIRouter, rigs: Rigs, checking: Checking, asking: asyncio.Lock) -> None:
    """What is turned, and the guided check."""

    @routes.get("/rigs/{name}/wiring", responses=NOT_FOUND, openapi_extra=LOOK)
    async def wiring(name: str) -> dict[str, Any]:
        """Verdicts, fits, the timing picture and the guided check. The first look begins to gather what is turned."""
        return checking.record(known_view(rigs, name))

    @routes.post("/rigs/{name}/wiring/anew", responses=NOT_FOUND, openapi_extra=MARK)
    async def anew(name: str) -> dict[str, Any]:
        """Forget what was turned so far: the wires are other ones now."""
        view = known_view(rigs, name)
        checking.anew(view)
        return checking.record(view)

    @routes.put("/rigs/{name}/wiring/names", responses=NOT_FOUND, openapi_extra=MARK)
    async def name_wires(name: str, wanted: NamesIn) -> dict[str, Any]:
        """Call the wires so from now on; the settings of the rig keep it (a name is a mark, as a note is)."""
        view = known_view(rigs, name)
        checking.name_wires(view, Names(_trimmed(wanted.halls), _trimmed(wanted.phases)))
        await _keep_names(rigs, checking, view, asking)
        return checking.record(view)

    @routes.post("/rigs/{name}/check", responses=NOT_FOUND, openapi_extra=MARK)
    async def act(name: str, wanted: ActIn) -> dict[str, Any]:
        """Begin the guided check, do what its step asks for, repeat, go back, skip, leave. All viewers see it."""
        view = known_view(rigs, name)
        if wanted.act == "begin":
            checking.begin(view)
        elif wanted.act == "leave":
            checking.leave(view)
        else:
            checking.act(view, _told(wanted))
            await _keep_names(rigs, checking, view, asking)
        return checking.record(view)

    @routes.post(
        "/rigs/{name}/check/keep",
        response_model=KeptCheckOut,
        responses={**NOT_FOUND, **NOTHING, **TOO_SOON},
        openapi_extra=MARK,
    )
    async def keep(name: str) -> object:
        """Keep verdicts, figures, drawing and steps beside the run that is recorded or played."""
        view = known_view(rigs, name)
        run = _run_of(rigs, view)
        try:
            number = await checking.keep(view, run)
        except NothingToKeepError as error:
            raise HTTPException(409, f"Nothing is kept: {error}.") from None
        except TooSoonError as error:
            raise HTTPException(429, f"Nothing is kept: {error}.", {"Retry-After": str(error.wait_s)}) from None
        except OSError as error:
            raise HTTPException(503, f"It could not be kept ({error.strerror or error}).") from None
        assert run is not None
        return {"run": run.name, "number": number}


def _add_kept(routes: APIRouter, rigs: Rigs, checking: Checking) -> None:
    """Checks that are kept with a run: listed, read, deleted and brought back."""

    async def judge_deleting(name: str, number: int) -> None:
        if number not in await asyncio.to_thread(check_numbers, await _known_run(rigs, name)):
            raise HTTPException(404, _gone(name, number))

    async def judge_undo(name: str, number: int) -> None:
        deleted = await asyncio.to_thread(deleted_checks, await _known_run(rigs, name))
        if number not in [each.number for each in deleted]:
            raise HTTPException(404, _gone(name, number))

    @routes.get("/runs/{name}/checks", response_model=list[CheckLine], responses=NO_CHECK, openapi_extra=LOOK)
    async def checks(name: str) -> object:
        """The checks that are kept with a run, the newest first."""
        run = await _known_run(rigs, name)
        found = await asyncio.to_thread(lambda: [(k, read_check(run, k)) for k in reversed(check_numbers(run))])
        return [{**summary(record), "number": number} for number, record in found if record is not None]

    @routes.get(
        "/runs/{name}/checks/deleted", response_model=list[DeletedCheckLine], responses=NO_CHECK, openapi_extra=LOOK
    )
    async def deleted(name: str) -> object:
        """Those that were deleted and can be brought back, the last deleted first."""
        run = await _known_run(rigs, name)
        return await asyncio.to_thread(lambda: [_deleted_line(each) for each in deleted_checks(run)])

    @routes.get("/runs/{name}/checks/{number}", response_class=HTMLResponse, responses=NO_CHECK, openapi_extra=LOOK)
    async def check(name: str, number: int) -> HTMLResponse:
        """One of them as a page of its own that prints on one sheet and can be saved and sent."""
        record = await asyncio.to_thread(read_check, await _known_run(rigs, name), number)
        if record is None:
            raise HTTPException(404, f"No check {number} is kept with the run {name[:100]}.")
        return HTMLResponse(sheet(record), headers={"content-security-policy": SHEET_POLICY})

    @routes.delete(
        "/runs/{name}/checks/{number}",
        response_model=KeptCheckOut,
        responses=NO_CHECK,
        openapi_extra=change("delete check {number} of the run {name}"),
    )
    @judged(judge_deleting)
    async def delete(name: str, number: int) -> object:
        """Put a check aside. It can be brought back until it is removed for good."""
        run = await _known_run(rigs, name)
        await _done(checking.delete_kept(run, number), name, number)
        return {"run": run.name, "number": number}

    @routes.post(
        "/runs/{name}/checks/{number}/undo",
        response_model=KeptCheckOut,
        responses={**NO_CHECK, **FULL},
        openapi_extra=change("bring the deleted check {number} of the run {name} back"),
    )
    @judged(judge_undo)
    async def undo(name: str, number: int) -> object:
        """Bring a deleted check back."""
        run = await _known_run(rigs, name)
        if not await _done(checking.undo_kept(run, number), name, number):
            raise HTTPException(409, f"{CHECKS_MAX} checks are kept with this run already; delete another one first.")
        return {"run": run.name, "number": number}


async def _done(doing: Awaitable[T], name: str, number: int) -> T:
    """What was asked for; why it could not be done, as a sentence."""
    try:
        return await doing
    except FileNotFoundError:
        raise HTTPException(404, _gone(name, number)) from None
    except OSError as error:
        raise HTTPException(503, f"The check could not be changed ({error.strerror or error}).") from None


def _gone(name: str, number: int) -> str:
    return f"No check {number} is kept with the run {name[:100]}, or none was deleted."


def _deleted_line(deleted: DeletedCheck) -> dict[str, Any]:
    told = summary(read_json(deleted.place) or {})
    return {
        **told,
        "number": deleted.number,
        "deleted_utc_s": deleted.deleted_utc_s,
        "removed_utc_s": deleted.removed_utc_s,
    }


async def _keep_names(rigs: Rigs, checking: Checking, view: View, asking: asyncio.Lock) -> None:
    """What the wires are called now goes into the settings of the rig; a played run's stay as they were recorded."""
    wires = checking.wires(view)
    if view.playing is not None or wires == view.wires:
        return
    async with asking:
        try:
            rig = known_rig(rigs, view.name)
            if not rig.demo:
                await rigs.look_at_file(view.name)  # what a person has just written there stays too
            if rig.refusal:
                raise ConfigError("", None, f"the settings file is not used ({rig.refusal})", "mend it first")
            await rigs.change(view.name, replace(rig.settings, wires=wires))
            checking.not_kept(view, "")
        except ConfigError as error:
            checking.not_kept(view, f"Not kept in the settings: {error}")


def _told(wanted: ActIn) -> Told:
    said = wanted.answers
    answers = None
    if said is not None:
        names = Names(_trimmed(said.halls), _trimmed(said.phases))
        rated, read = (said.rated_v, said.rated_a), (said.supply_v, said.supply_a)
        answers = Answers(names, said.pole_pairs, *rated, *read, said.spacing_deg)
    return Told(Act(wanted.act), answers, Showed(wanted.showed) if wanted.showed else None, wanted.choice, wanted.at)


def _trimmed(three: tuple[str, str, str]) -> tuple[str, str, str]:
    a, b, c = (" ".join(name.split()) for name in three)
    return a, b, c


def _run_of(rigs: Rigs, view: View) -> Path | None:
    """The folder of the run that is recorded of it, or that is played."""
    name = view.playing.run if view.playing is not None else view.recorded().run
    return rigs.library.folder / name if rigs.library is not None and name else None


async def _known_run(rigs: Rigs, name: str) -> Path:
    shelved = None if rigs.recorded is None else await asyncio.to_thread(rigs.recorded.shelf.get, name)
    if rigs.recorded is None or shelved is None:
        raise HTTPException(404, f'There is no run "{name[:100]}".')
    return rigs.recorded.shelf.folder / shelved.summary.name
