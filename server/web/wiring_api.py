"""The Wiring screen and its guided check over HTTP, and the checks that are kept with runs. The guard has judged who
asks."""

import asyncio
from pathlib import Path
from typing import Any

from fastapi import APIRouter, HTTPException
from fastapi.responses import HTMLResponse

from server.checking import Checking, NothingToKeepError
from server.live.view import View
from server.procedures.hall_records import Act, Answers, Told
from server.procedures.sheet import sheet, summary
from server.rigs import Rigs
from server.runs.beside import check_numbers, read_check
from server.web.guard import SHEET_POLICY
from server.web.models import Problem
from server.web.permissions import LOOK, MARK
from server.web.reading_api import NOT_FOUND, Responses, known_view
from server.web.wiring_models import ActIn, CheckLine, KeptCheckOut, NamesIn
from server.wiring.names import Names
from server.wiring.trying import Showed

NOTHING: Responses = {409: {"model": Problem, "description": "There is nothing to keep, or no run; it says why."}}
NO_CHECK: Responses = {404: {"model": Problem, "description": "There is no such run or check."}}


def wiring_routes(rigs: Rigs, checking: Checking) -> APIRouter:
    """All routes about the wiring."""
    routes = APIRouter(prefix="/api", tags=["wiring"])

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
        """Call the wires so from now on; they are kept with what is kept."""
        view = known_view(rigs, name)
        checking.name_wires(view, Names(_trimmed(wanted.halls), _trimmed(wanted.phases)))
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
        return checking.record(view)

    @routes.post(
        "/rigs/{name}/check/keep", response_model=KeptCheckOut, responses={**NOT_FOUND, **NOTHING}, openapi_extra=MARK
    )
    async def keep(name: str) -> object:
        """Keep verdicts, figures, drawing and steps beside the run that is recorded or played."""
        view = known_view(rigs, name)
        run = _run_of(rigs, view)
        try:
            number = await checking.keep(view, run)
        except NothingToKeepError as error:
            raise HTTPException(409, f"Nothing is kept: {error}.") from None
        except OSError as error:
            raise HTTPException(503, f"It could not be kept ({error.strerror or error}).") from None
        assert run is not None
        return {"run": run.name, "number": number}

    @routes.get("/runs/{name}/checks", response_model=list[CheckLine], responses=NO_CHECK, openapi_extra=LOOK)
    async def checks(name: str) -> object:
        """The checks that are kept with a run, the newest first."""
        run = await _known_run(rigs, name)
        found = await asyncio.to_thread(lambda: [(k, read_check(run, k)) for k in reversed(check_numbers(run))])
        return [{**summary(record), "number": number} for number, record in found if record is not None]

    @routes.get("/runs/{name}/checks/{number}", response_class=HTMLResponse, responses=NO_CHECK, openapi_extra=LOOK)
    async def check(name: str, number: int) -> HTMLResponse:
        """One of them as a page of its own that prints on one sheet and can be saved and sent."""
        record = await asyncio.to_thread(read_check, await _known_run(rigs, name), number)
        if record is None:
            raise HTTPException(404, f"No check {number} is kept with the run {name[:100]}.")
        return HTMLResponse(sheet(record), headers={"content-security-policy": SHEET_POLICY})

    return routes


def _told(wanted: ActIn) -> Told:
    said = wanted.answers
    answers = None
    if said is not None:
        names = Names(_trimmed(said.halls), _trimmed(said.phases))
        answers = Answers(names, said.pole_pairs, said.rated_v, said.rated_a, said.supply_v, said.supply_a)
    return Told(Act(wanted.act), answers, Showed(wanted.showed) if wanted.showed else None, wanted.choice)


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
