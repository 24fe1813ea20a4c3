"""Pictures that are kept: armed, held, drawn, measured and dropped. The guard has judged who asks."""

from math import isfinite
from typing import Annotated, Literal

from fastapi import APIRouter, HTTPException, Query
from pydantic import BaseModel, Field

from server.live.arming import AFTER_MAX_S, BEFORE_MAX_S, ROWS, Wanted, What
from server.live.keeping import NothingToKeepError, wanted_words
from server.live.kept import Kept
from server.live.kept_picture import COLUMNS_MAX, NoLineError, between_points, kept_trace
from server.live.two_points import Snap
from server.live.view import View
from server.quantities import QUANTITIES
from server.rigs import Rigs
from server.web.judged import judged
from server.web.models import Problem
from server.web.permissions import LOOK, MARK, change
from server.web.reading_api import NOT_FOUND, Responses, known_view
from server.web.settings_models import Strict

GONE: Responses = {404: {"model": Problem, "description": "There is no such rig, or it keeps this picture no more."}}
NOTHING: Responses = {409: {"model": Problem, "description": "No samples are there to be kept."}}
_KEYS = {one.key for one in QUANTITIES}
_NUMBER = Annotated[float, Query(allow_inf_nan=False)]


class Arm(Strict):
    """What to wait for. Of a crossing: reading, an id as in the readings, and the level in its unit."""

    what: Literal["start", "crossing"]
    reading: str = Field("", max_length=100)
    above: bool = True
    level: float = Field(0.0, allow_inf_nan=False)
    before_s: float = Field(0.2, ge=0.0, le=BEFORE_MAX_S)
    after_s: float = Field(1.5, ge=0.1, le=AFTER_MAX_S)


class ArmedOut(BaseModel):
    """What is armed, in words; null where nothing is."""

    rig: str
    armed: str | None


class KeptOut(BaseModel):
    """One kept picture. why: held, start or crossing; moment_s: what it was kept for, in seconds from its beginning."""

    number: int
    why: str
    text: str
    start_utc_s: float
    span_s: float
    moment_s: float


class KeepingOut(BaseModel):
    """armed: what is waited for, or null; kept: newest first; trouble: why what came was not kept, or empty."""

    armed: dict[str, object] | None
    kept: list[KeptOut]
    trouble: str


class BetweenOut(BaseModel):
    """Numbers of two points and of what lies between them, by their ids, as readings are told."""

    rig: str
    kept: int
    readings: dict[str, dict[str, object]]


def kept_routes(rigs: Rigs) -> APIRouter:
    """The routes of this file."""
    routes = APIRouter(prefix="/api/rigs/{name}", tags=["kept pictures"])
    _add_keeping(routes, rigs)
    _add_measuring(routes, rigs)
    return routes


def _add_keeping(routes: APIRouter, rigs: Rigs) -> None:
    """What is kept and what is waited for."""

    async def judge_drop(name: str, number: int) -> None:
        _known(known_view(rigs, name), number)

    @routes.get("/kept", response_model=KeepingOut, responses=NOT_FOUND, openapi_extra=LOOK)
    async def keeping(name: str) -> object:
        """What is armed, and what is kept, in memory: it ends with the service; the run has the samples."""
        return known_view(rigs, name).keeping.record()

    @routes.post("/arm", response_model=ArmedOut, responses=NOT_FOUND, openapi_extra=MARK)
    async def arm(name: str, wanted: Arm) -> object:
        """Wait for the next start or the next crossing of a limit, and keep the picture round it; only once. What was
        armed before is so no more."""
        view = known_view(rigs, name)
        asked = Wanted(What(wanted.what), wanted.before_s, wanted.after_s, wanted.reading, wanted.above, wanted.level)
        if asked.what is What.CROSSING and wanted.reading.partition(".")[0] not in _KEYS:
            raise HTTPException(422, f'reading: there is none called "{wanted.reading}"; {", ".join(ROWS)} are some.')
        seen = view.seen
        view.keeping.arm(asked, -1.0 if seen is None else seen.sample_s, view.time.of(rigs.utc_s()))
        return {"rig": view.name, "armed": wanted_words(asked)}

    @routes.post("/disarm", response_model=ArmedOut, responses=NOT_FOUND, openapi_extra=MARK)
    async def disarm(name: str) -> object:
        """Nothing is waited for any more."""
        view = known_view(rigs, name)
        view.keeping.disarm()
        return {"rig": view.name, "armed": None}

    @routes.post("/hold", response_model=KeptOut, responses={**NOT_FOUND, **NOTHING}, openapi_extra=MARK)
    async def hold(name: str) -> object:
        """Keep the newest two seconds for whoever measures on them; the eight newest such pictures stay."""
        view = known_view(rigs, name)
        seen = view.seen
        try:
            if seen is None:
                raise NothingToKeepError("no voltage or current has come")
            return view.keeping.hold(seen).record()
        except NothingToKeepError as error:
            raise HTTPException(409, f"Nothing is kept: {error}.") from None

    @routes.delete(
        "/kept/{number}",
        response_model=KeepingOut,
        responses=GONE,
        openapi_extra=change("delete the kept picture {number} of {name}"),
    )
    @judged(judge_drop)
    async def drop(name: str, number: int) -> object:
        """Keep it no more."""
        view = known_view(rigs, name)
        _known(view, number)
        view.keeping.shelf.drop(number)
        return view.keeping.record()


def _add_measuring(routes: APIRouter, rigs: Rigs) -> None:
    """A kept picture drawn, and what lies between two points of it."""

    @routes.get("/kept/{number}/trace", responses=GONE, openapi_extra=LOOK)
    async def trace(
        name: str,
        number: int,
        from_s: _NUMBER,
        to_s: _NUMBER,
        columns: Annotated[int, Query(ge=10, le=COLUMNS_MAX)] = 600,
    ) -> dict[str, object]:
        """A stretch of it drawn: the trace of SOCKET.md, and on each line the moments at which points come to stand."""
        kept = _known(known_view(rigs, name), number)
        try:
            return kept_trace(kept, from_s, to_s, columns)
        except ValueError as error:
            raise HTTPException(422, f"from_s, to_s: {error}.") from None

    @routes.get(
        "/kept/{number}/between",
        response_model=BetweenOut,
        response_model_exclude_unset=True,
        responses=GONE,
        openapi_extra=LOOK,
    )
    async def between(
        name: str,
        number: int,
        one_s: _NUMBER,
        one: int,
        other_s: _NUMBER,
        other: int,
        one_at: Snap = Snap.FREE,
        other_at: Snap = Snap.FREE,
    ) -> object:
        """What two points tell: time with frequency and angle, values and their difference, and RMS, mean, power and
        energy of the stretch between. `one`, `other`: indexes of channels; `..._at`: what a point stands at."""
        view = known_view(rigs, name)
        kept = _known(view, number)
        try:
            readings = between_points(kept, (one_s, one, one_at), (other_s, other, other_at))
        except NoLineError as error:
            raise HTTPException(422, f"one, other: {error}.") from None
        told = {key: each for key, each in readings.items() if _finite(each["value"])}
        return {"rig": view.name, "kept": number, "readings": told}


def _finite(value: object) -> bool:
    return not isinstance(value, float) or isfinite(value)


def _known(view: View, number: int) -> Kept:
    kept = view.keeping.shelf.get(number)
    if kept is None:
        raise HTTPException(404, f"The picture {number} is kept no more.")
    return kept
