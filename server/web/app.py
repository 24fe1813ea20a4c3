"""The web application: page, API and live socket behind the guard."""

import asyncio
import contextlib
from collections.abc import AsyncGenerator
from pathlib import Path

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, Response
from fastapi.staticfiles import StaticFiles
from starlette.exceptions import HTTPException
from starlette.routing import WebSocketRoute
from starlette.types import Scope

import server
from server.access.entrance import Entrance
from server.alarms.notice import Notice, Rank
from server.alarms.quiet import receivers_of
from server.all_alarms import AllAlarms
from server.calibrating import Calibrating
from server.calibration.found import UnfitError
from server.checking import Checking
from server.config import ConfigError
from server.live.hub import Hub
from server.live.view import View
from server.planning import Planning
from server.rigs import Rigs
from server.settings.plain import escaped
from server.web.access_api import access_routes
from server.web.alarms_api import alarms_routes
from server.web.calibration_api import calibration_routes
from server.web.changing_api import changing_routes
from server.web.compare_api import compare_routes
from server.web.connections_api import connections_routes
from server.web.door import NO_PAGE, Door
from server.web.export_api import export_routes
from server.web.guard import Guard
from server.web.health_api import health_routes
from server.web.kept_api import kept_routes
from server.web.lines_api import lines_route
from server.web.live_socket import LiveSocket
from server.web.night_api import night_routes
from server.web.notify_api import notify_routes
from server.web.origin import Refusal
from server.web.permissions import Needs
from server.web.plan_api import plan_routes
from server.web.reading_api import reading_routes
from server.web.refusals import of_error, of_invalid
from server.web.runs_api import runs_routes
from server.web.spectrum_api import spectrum_routes
from server.web.teaching_api import teaching_routes
from server.web.trends_api import trends_routes
from server.web.wiring_api import wiring_routes

STATIC = Path(server.__file__).parent / "static"
_ABOUT = (
    "Everything the page shows. Live pictures come over the WebSocket /live (server/live/SOCKET.md), live readings, "
    "states and events as JSON lines over /api/lines. Slipring watches, it does not protect."
)


def create_app(rigs: Rigs, entrance: Entrance, static: Path = STATIC) -> Guard:
    """The whole ASGI application; `rigs` is started and stopped by whoever made it. Raises UndeclaredRouteError."""
    planning = Planning(rigs)
    alarms = AllAlarms(rigs, planning.tested)
    alarms.heard.add(lambda notice: _call(rigs, notice))
    rigs.delivery.standing, rigs.delivery.called = alarms.as_now, lambda: _called(rigs)
    hub = Hub(lambda: _views(rigs), rigs.utc_s, lambda: (alarms.standing(), alarms.troubles()))

    @contextlib.asynccontextmanager
    async def ticking(app: FastAPI) -> AsyncGenerator[None]:
        tasks = [asyncio.create_task(hub.run()), asyncio.create_task(alarms.run())]
        try:
            yield
        finally:
            for task in tasks:
                task.cancel()
            await asyncio.gather(*tasks, return_exceptions=True)

    app = FastAPI(
        title="Slipring",
        version=server.VERSION,
        description=_ABOUT,
        docs_url=None,  # the stock page of the API loads its parts from other hosts
        redoc_url=None,
        openapi_url="/api/openapi.json",
        redirect_slashes=False,
        lifespan=ticking,
    )
    checking = Checking(rigs.utc_s)
    asking = asyncio.Lock()  # two that open the same port at once would disturb each other
    routers = (
        reading_routes(rigs, alarms),
        alarms_routes(rigs, alarms),
        changing_routes(rigs, asking),
        runs_routes(rigs),
        compare_routes(rigs),
        export_routes(rigs),
        connections_routes(rigs),
        calibration_routes(rigs, Calibrating(rigs)),
        wiring_routes(rigs, checking, asking),
        lines_route(rigs),
        spectrum_routes(rigs),
        trends_routes(rigs),
        night_routes(rigs, alarms),
        kept_routes(rigs),
        plan_routes(rigs, planning),
        teaching_routes(rigs, checking),
        notify_routes(rigs),
        health_routes(rigs, alarms),
        access_routes(entrance),
    )
    for router in routers:
        app.include_router(router)
    app.router.routes.append(WebSocketRoute("/live", LiveSocket(hub, server.VERSION, entrance)))
    _answer_errors(app)
    door = Door(static)
    app.add_api_route("/enter", door.page, include_in_schema=False)
    if (static / "index.html").is_file():
        app.mount("/", _Page(directory=static, html=True))
    else:
        app.add_api_route("/", _no_page, include_in_schema=False)
    return Guard(app, entrance, Needs([route for router in routers for route in router.routes]), door)


def _views(rigs: Rigs) -> dict[str, View]:
    """The rigs, and behind them the runs that are played."""
    plays = () if rigs.recorded is None else rigs.recorded.plays
    return {**{play.name: play.view for play in plays}, **{rig.name: rig.view for rig in rigs}}


def _call(rigs: Rigs, notice: Notice) -> None:
    """An invented motor calls nobody out of bed."""
    rig = rigs.get(notice.rig)
    if rig is None or not rig.demo:
        rigs.delivery.deliver(notice)


def _called(rigs: Rigs) -> dict[str, list[str]]:
    return {
        rig.name: list(dict.fromkeys(name for rank in Rank for name in receivers_of(rig.settings.calling, rank)))
        for rig in rigs
        if not rig.demo
    }


class _Page(StaticFiles):
    """The built page; a browser asks each time whether it has changed."""

    async def get_response(self, path: str, scope: Scope) -> Response:
        response = await super().get_response(path, scope)
        response.headers["cache-control"] = "no-cache"
        return response


async def _no_page() -> JSONResponse:
    return JSONResponse({"detail": NO_PAGE}, 503)


def _answer_errors(app: FastAPI) -> None:
    """Every error has the same shape: a sentence under `detail`."""

    @app.exception_handler(HTTPException)
    async def known(request: Request, error: HTTPException) -> JSONResponse:
        sentence = error.detail
        if sentence == "There was an error parsing the body":  # JSON, but none that can be held
            return _refusal(of_invalid({"type": "json_unfit"}, ()), "")
        if sentence == "Not Found":
            sentence = f"There is nothing at {request.url.path[:100]}."
        elif sentence == "Method Not Allowed":
            sentence = f"{request.method} is not possible at {request.url.path[:100]}."
        return JSONResponse({"detail": escaped(str(sentence))}, error.status_code, error.headers)

    @app.exception_handler(RequestValidationError)
    async def invalid(request: Request, error: RequestValidationError) -> JSONResponse:
        wrong = error.errors()[0]
        found = of_invalid(wrong, wrong["loc"][1:])
        return _refusal(found, found.key)

    @app.exception_handler(ConfigError)
    @app.exception_handler(UnfitError)
    async def refused(request: Request, error: ConfigError | UnfitError) -> JSONResponse:
        found = of_error(error)
        return _refusal(found, found.key or None)

    @app.exception_handler(Exception)
    async def ours(request: Request, error: Exception) -> JSONResponse:
        return JSONResponse({"detail": "Slipring made a mistake; what went wrong stands in its terminal."}, 500)


def _refusal(found: Refusal, key: str | None) -> JSONResponse:
    """Of what was written only what an answer can hold: half a character is none."""
    said = {"detail": escaped(found.sentence), **({} if key is None else {"key": escaped(key)})}
    return JSONResponse(said, found.status)
