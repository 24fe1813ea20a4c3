"""GET: trends of readings over a run or over all runs of a rig, from their logs. Changes nothing."""

from typing import Annotated, Any

from fastapi import APIRouter, HTTPException, Query, Response

from server.live.packing import pack
from server.rigs import Rigs
from server.runs.log.reading import Trends
from server.web.models import Problem
from server.web.permissions import LOOK
from server.web.reading_api import Responses, known_rig
from server.web.runs_api import NO_RUN, known_run, recorded_runs

COLUMNS_MAX = 4000
IDS_MAX = 64
SPAN_MAX_S = 400 * 86_400.0
RUNS_MAX = 2000  # of one answer
MEDIA_TYPE = "application/octet-stream"
_PACKED: Responses = {
    200: {
        "content": {MEDIA_TYPE: {"schema": {"type": "string", "format": "binary"}}},
        "description": "Packed as a picture is (SOCKET.md). `readings`: id to low, high, mean and trusted, a float32"
        " for each column, NaN where there is none; trusted: the share of good ones among all that there should be;"
        " and bound: \u2264 or \u2265 where the last value is only a bound, else empty."
        " `states`: UTC seconds from which each run state holds, and its word. `runs`: each with from_utc_s, to_utc_s"
        " and trouble, what is missing and why. `there`: the ids of all readings that they have.",
    }
}
SPAN: Responses = {422: {"model": Problem, "description": "The span is empty or too long."}}
_Ids = Annotated[
    list[str], Query(default_factory=list, max_length=IDS_MAX, description="Ids of readings; may come several times.")
]
_Columns = Annotated[
    int, Query(ge=1, le=COLUMNS_MAX, description="At least so many, up to twice; fewer where they are 1 s long.")
]
_From = Annotated[float | None, Query(alias="from", ge=0.0, le=1e11, description="UTC seconds.")]
_To = Annotated[float | None, Query(alias="to", ge=0.0, le=1e11, description="UTC seconds.")]


def trends_routes(rigs: Rigs) -> APIRouter:
    """The routes of this file."""
    routes = APIRouter(prefix="/api", tags=["runs"])

    @routes.get(
        "/runs/{name}/trends", response_class=Response, responses={**NO_RUN, **_PACKED, **SPAN}, openapi_extra=LOOK
    )
    async def of_run(
        name: str,
        ids: _Ids,
        from_utc_s: _From = None,
        to_utc_s: _To = None,
        columns: _Columns = 1200,
    ) -> Response:
        """Trends of one run, recorded now or before, as a rule from end to end."""
        recorded = recorded_runs(rigs)
        shelved = await known_run(recorded, name)
        span = None if from_utc_s is None or to_utc_s is None else span_of(from_utc_s, to_utc_s)
        return _answer(rigs, {"run": name}, await recorded.trends([shelved.summary], ids, span, columns))

    @routes.get(
        "/rigs/{name}/trends", response_class=Response, responses={**NO_RUN, **_PACKED, **SPAN}, openapi_extra=LOOK
    )
    async def of_rig(
        name: str,
        from_utc_s: Annotated[float, Query(alias="from", ge=0.0, le=1e11, description="UTC seconds.")],
        to_utc_s: Annotated[float, Query(alias="to", ge=0.0, le=1e11, description="UTC seconds.")],
        ids: _Ids,
        columns: _Columns = 1200,
    ) -> Response:
        """Trends over all runs of a rig in a span of hours to months; between runs there is a gap."""
        rig, span = known_rig(rigs, name), span_of(from_utc_s, to_utc_s)
        recorded = recorded_runs(rigs)
        runs = await recorded.runs_of(rig.name, *span)
        if len(runs) > RUNS_MAX:
            raise HTTPException(422, f"There are {len(runs)} runs in this span, and {RUNS_MAX} are told; ask for less.")
        return _answer(rigs, {"rig": rig.name}, await recorded.trends(runs, ids, span, columns))

    return routes


def span_of(from_utc_s: float, to_utc_s: float) -> tuple[float, float]:
    """The span that is asked for; raises the 422 that says what is wrong with it."""
    if not 0.0 < to_utc_s - from_utc_s <= SPAN_MAX_S:
        what = f"From {from_utc_s:.0f} to {to_utc_s:.0f} is no span of at most {SPAN_MAX_S / 86_400:.0f} days"
        raise HTTPException(422, f"{what}; give two moments, the earlier one first.")
    return from_utc_s, to_utc_s


def _answer(rigs: Rigs, of: dict[str, str], found: Trends) -> Response:
    now = [rig.recording.logging for rig in rigs if rig.recording is not None]
    grid, stopped = found.grid, {each.run: each.reason for each in now}
    message: dict[str, Any] = {
        "kind": "trends",
        **of,
        "from_utc_s": grid.from_utc_s,
        "to_utc_s": grid.to_utc_s,
        "columns": grid.columns,
        "there": list(found.there),
        "states": found.states,
        "runs": [
            {
                "run": part.run,
                "from_utc_s": None if part.span is None else part.span[0],
                "to_utc_s": None if part.span is None else part.span[1],
                "trouble": stopped.get(part.run) or part.trouble,
            }
            for part in found.parts
        ],
        "readings": {
            each: {
                "low": band.low,
                "high": band.high,
                "mean": band.mean,
                "trusted": band.trusted,
                "bound": band.bound.strip(),
            }
            for each, band in found.bands.items()
        },
    }
    return Response(pack(message), media_type=MEDIA_TYPE)
