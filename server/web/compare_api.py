"""Two recorded runs beside each other over HTTP: their starts, and what differs. The guard has judged who asks."""

from typing import Annotated, Any

from fastapi import APIRouter, HTTPException, Query, Request
from pydantic import BaseModel, Field

from server.comparing import Comparison, LaterError, NoComparisonError, NotSummedUpError, Side
from server.comparison.differences import Difference, Outcome
from server.duty.cycle import Figure
from server.rigs import Rigs
from server.web.asker import unless_left
from server.web.models import Problem
from server.web.permissions import LOOK
from server.web.reading_api import Responses
from server.web.run_records import motor_of
from server.web.runs_api import NO_RUN, known_run, recorded_runs
from server.web.settings_models import Number

REFUSED: Responses = {
    409: {"model": Problem, "description": "These cannot be compared; it says why and what to do."},
    503: {"model": Problem, "description": "Not yet: it says why; ask again later."},
}
_RUNS_MAX = 50
_NAME_MAX = 200


class SideOut(BaseModel):
    """One of the two: rows of step_s from from_s on, counted from at_utc_s; null where none came. synchronous_rpm: of
    its field, null where it has none or it is not known."""

    run: str
    rig: str
    motor: str
    opened_utc_s: float
    at_utc_s: float
    from_s: float
    step_s: float
    current_a: list[Number]
    speed_rpm: list[Number]
    synchronous_rpm: Number


class FigureOut(BaseModel):
    """A figure of one of them; value null: reason says why. u95: half the width of the interval that holds the true
    value in 95 % of cases, null where it is not known; bound: "at least", "at most" or empty."""

    value: Number
    u95: Number
    bound: str
    reason: str


class DifferenceOut(BaseModel):
    """One figure of both. differs: further apart than the root of the summed squares of both ±; alike: not; absent: one
    has none; unknown: it cannot be told, why says so. change: newer less older, share: of the older in per cent."""

    key: str
    label: str
    unit: str
    digits: int
    definition: str
    outcome: Outcome
    older: FigureOut
    newer: FigureOut
    change: Number
    change_u95: Number
    share: Number
    why: str


class EventKind(BaseModel):
    """A kind of event that both runs have, and its words."""

    kind: str
    text: str


class ComparisonOut(BaseModel):
    """Two runs laid on each other at the first event of one kind; kinds: at which they can be."""

    kind: str
    kinds: list[EventKind]
    older: SideOut
    newer: SideOut
    differences: list[DifferenceOut]


def compare_routes(rigs: Rigs) -> APIRouter:
    """The routes of this file."""
    routes = APIRouter(prefix="/api", tags=["runs"])

    @routes.get("/compare", response_model=ComparisonOut, responses={**NO_RUN, **REFUSED}, openapi_extra=LOOK)
    async def compare(
        request: Request,
        run: Annotated[list[Annotated[str, Field(max_length=_NAME_MAX)]], Query(max_length=_RUNS_MAX)],
        at: Annotated[str, Query(max_length=_NAME_MAX)] = "",
    ) -> object:
        """Two runs, `run` given twice, laid on each other at the first event of the kind `at`: power on, or another.

        `at` left out: power on, or where a start was not seen in both the first kind that both have.
        What differs is only what exceeds both uncertainties. A few seconds of each run are played for it.
        """
        recorded = recorded_runs(rigs)
        if len(run) != 2 or run[0] == run[1]:
            raise HTTPException(409, f"Two runs are compared at a time, not {len(set(run))}; choose two.")
        one, other = [await known_run(recorded, name) for name in run]
        try:
            return _record(rigs, await unless_left(request, recorded.comparing.compare(one, other, at)))
        except (NoComparisonError, OSError) as error:
            said = (getattr(error, "strerror", None) or str(error)).rstrip(".")
            later = isinstance(error, LaterError)
            if isinstance(error, NotSummedUpError) and (failed := recorded.summing_up.failed.get(error.run)):
                said, later = failed.rstrip("."), False
            raise HTTPException(503 if later else 409, f"{said[:1].upper()}{said[1:]}.") from None

    return routes


def _record(rigs: Rigs, found: Comparison) -> dict[str, Any]:
    return {
        "kind": found.kind,
        "kinds": [{"kind": kind, "text": text} for kind, text in found.kinds],
        "older": _side(rigs, found.older),
        "newer": _side(rigs, found.newer),
        "differences": [_difference(each) for each in found.differences],
    }


def _side(rigs: Rigs, side: Side) -> dict[str, Any]:
    summary = side.shelved.summary
    return {
        "run": summary.name,
        "rig": summary.rig,
        "motor": motor_of(rigs, side.shelved),
        "opened_utc_s": summary.opened_utc_s,
        "at_utc_s": side.at_utc_s,
        **side.stretch,
    }


def _difference(each: Difference) -> dict[str, Any]:
    kind = each.kind
    return {
        "key": kind.key,
        "label": kind.label,
        "unit": kind.unit,
        "digits": kind.digits,
        "definition": kind.definition,
        "outcome": each.outcome,
        "older": _figure(each.older),
        "newer": _figure(each.newer),
        "change": each.change,
        "change_u95": each.half,
        "share": each.share,
        "why": each.why,
    }


def _figure(figure: Figure) -> dict[str, Any]:
    return {"value": figure.value, "u95": figure.half, "bound": figure.bound.value, "reason": figure.reason}
