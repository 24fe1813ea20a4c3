"""Test plans, their judgement and the cycles of runs over HTTP. The guard has judged who asks."""

import asyncio
from dataclasses import asdict
from typing import Annotated, Any

from fastapi import APIRouter, HTTPException, Query

from server.config import ConfigError
from server.duty import FIGURES
from server.duty.cycle import Cycle
from server.duty.equilibrium import Equilibrium
from server.duty.factor import usage_of
from server.duty.table import not_kept
from server.duty.types import duty_type_of
from server.planning import Planning
from server.rig import Rig
from server.rigs import Rigs
from server.test_plan.counting import Ran, counted, cycles_of
from server.test_plan.judge import drifts_of
from server.test_plan.plan import PlanText
from server.test_plan.text import parse_plan, tables_of, text_of
from server.test_plan.told import duty_record, figure_record, judgement_record
from server.web.judged import judged
from server.web.models import Problem
from server.web.permissions import LOOK, change
from server.web.plan_models import CyclesOut, JudgementOut, PlanIn, PlanOut
from server.web.reading_api import NOT_FOUND, Responses, known_rig

REFUSED: Responses = {
    422: {"model": Problem, "description": "The plan cannot be used, it says line and way out; or the rig is a demo."}
}
NO_PLAN: Responses = {404: {"model": Problem, "description": "There is no such rig, or it has no plan."}}
NOT_READ: Responses = {503: {"model": Problem, "description": "The runs cannot be read."}}
NO_CYCLES: Responses = {404: {"model": Problem, "description": "There is no such run, or it was not summed up yet."}}
_CYCLES_MAX = 1001  # that are kept of a run, the one under way among them
_NO_PLAN_YET = "has no test plan; set one with PUT, or slipring plan --set FILE."


def plan_routes(rigs: Rigs, planning: Planning) -> APIRouter:
    """All routes about test plans and cycles."""
    routes = APIRouter(prefix="/api", tags=["test plan"])
    _add_plan(routes, rigs, planning)
    _add_judgement(routes, rigs, planning)
    return routes


def _add_plan(routes: APIRouter, rigs: Rigs, planning: Planning) -> None:
    """The plan of a rig."""

    async def judge(name: str, wanted: PlanIn) -> None:
        rig = _tested_rig(rigs, name).name
        await asyncio.to_thread(planning.files.judge, rig, _text(wanted), rigs.utc_s())

    async def judge_removal(name: str) -> None:
        rig = known_rig(rigs, name).name
        if not await asyncio.to_thread(planning.files.is_there, rig):
            raise HTTPException(404, f"{rig} {_NO_PLAN_YET}")

    @routes.get("/rigs/{name}/plan", response_model=PlanOut, responses=NOT_FOUND, openapi_extra=LOOK)
    async def plan(name: str) -> object:
        """What is tested on this rig, for how long and by which limits (PLAN.md)."""
        rig = known_rig(rigs, name).name
        try:
            return _plan_record(rig, await planning.plan(rig))
        except ConfigError as error:
            text = await asyncio.to_thread(planning.files.text, rig)
            return {"rig": rig, "file": error.file, "text": text, "tables": None, "refused": str(error)}

    @routes.put(
        "/rigs/{name}/plan",
        response_model=PlanOut,
        responses={**NOT_FOUND, **REFUSED},
        openapi_extra=change("set the test plan of {name}"),
    )
    @judged(judge)
    async def set_plan(name: str, wanted: PlanIn) -> object:
        """Keep a plan; the one before is kept as NAME.toml.previous. What was counted so far is judged by it anew. The
        run that is recorded is ended where it opened before the test begins: its name is told as `ended`."""
        rig = _tested_rig(rigs, name)
        it, ended = await planning.set(rig, _text(wanted))
        return {**_plan_record(rig.name, it), "ended": ended}

    @routes.delete(
        "/rigs/{name}/plan",
        response_model=PlanOut,
        responses=NO_PLAN,
        openapi_extra=change("put the test plan of {name} away"),
    )
    @judged(judge_removal)
    async def remove_plan(name: str) -> object:
        """Put the plan away; its file is kept as NAME.toml.previous, and the runs stay as they are."""
        rig = known_rig(rigs, name).name
        if not await asyncio.to_thread(planning.files.remove, rig):
            raise HTTPException(404, f"{rig} {_NO_PLAN_YET}")
        return _plan_record(rig, None)


def _tested_rig(rigs: Rigs, name: str) -> Rig:
    """A rig that can have a plan. Raises ConfigError of a demo rig: the next one of its name is another."""
    rig = known_rig(rigs, name)
    if rig.demo:
        raise ConfigError(
            "", None, f"{rig.name} is a demo rig and keeps no test plan", "add a rig for a board of your own"
        )
    return rig


def _add_judgement(routes: APIRouter, rigs: Rigs, planning: Planning) -> None:
    """How a test stands, and what it is made of."""

    @routes.get(
        "/rigs/{name}/plan/judgement",
        response_model=JudgementOut,
        responses={**NO_PLAN, **NOT_READ, **REFUSED},
        openapi_extra=LOOK,
    )
    async def judgement(name: str) -> object:
        """Pass, fail or undecided now, with the evidence: counts over all runs, limits that were passed, what is
        unknown, how long it still takes."""
        rig = known_rig(rigs, name)
        text = await planning.plan(rig.name)
        if text is None:
            raise HTTPException(404, f"{rig.name} {_NO_PLAN_YET}")
        try:
            return {"rig": rig.name, **judgement_record(await planning.judgement(rig, text.plan))}
        except OSError as error:
            raise HTTPException(503, f"The runs cannot be read ({error.strerror or error}).") from None

    @routes.get("/runs/{name}/cycles", response_model=CyclesOut, responses=NO_CYCLES, openapi_extra=LOOK)
    async def cycles(name: str, newest: Annotated[int, Query(ge=1, le=_CYCLES_MAX)] = _CYCLES_MAX) -> object:
        """The newest cycles of a run, each with its figures, and what all of them show; of the run that is recorded now
        as far as they have come."""
        try:
            found = await planning.run(name)
        except OSError as error:
            raise HTTPException(503, f"The runs cannot be read ({error.strerror or error}).") from None
        if found is None:
            raise HTTPException(404, f'There is no run "{name[:100]}".')
        if found.evidence is None:
            raise HTTPException(404, f"{found.name}: {found.why_not}.")
        return await asyncio.to_thread(_cycles_record, found, newest)


def _text(wanted: PlanIn) -> str:
    if (wanted.text is None) == (wanted.tables is None):
        raise ConfigError("", None, "a plan is given as text or as tables", "send one of the two", "text")
    if wanted.tables is None:
        return wanted.text or ""
    text = text_of(wanted.tables)
    parse_plan(text, "")  # who filled in a form has seen no file and no line: the refusal names the field alone
    return text


def _plan_record(rig: str, it: PlanText | None) -> dict[str, Any]:
    if it is None:
        return {"rig": rig, "file": "", "text": None, "tables": None, "refused": ""}
    return {"rig": rig, "file": it.file, "text": it.text, "tables": tables_of(it.plan), "refused": ""}


def _cycles_record(run: Ran, newest: int) -> dict[str, Any]:
    kinds = [asdict(kind) for kind in FIGURES]
    sums, cycles = counted([run]), cycles_of(run)  # as its test plan counts: the cycle under way is in them
    counts = {"starts": sums.starts, "on_s": sums.on_s, "hidden_s": sums.hidden_s}
    shown = duty_type_of(cycles, Equilibrium(None, "no temperature is watched; a test plan can name one"))
    duty = duty_record(usage_of(cycles), shown, drifts_of(cycles))
    told = [_cycle_record(each) for each in cycles[-newest:]]
    missing = [f"{run.why_not[:1].upper()}{run.why_not[1:]}."] if run.why_not else []
    if said := not_kept(run.duty):
        missing.append(f"Figures are {said}.")
    return {"run": run.name, **counts, **duty, "kinds": kinds, "cycles": told, "missing": missing}


def _cycle_record(cycle: Cycle) -> dict[str, Any]:
    return {
        "number": cycle.number,
        "utc_s": cycle.start_s,
        "begun": cycle.begun.value,
        "ended": cycle.ended,
        "figures": {key: figure_record(each) for key, each in cycle.figures.items()},
        "doubts": list(cycle.doubts),
        "hidden_s": cycle.hidden_s,
        "stalls": cycle.stalls,
        "reversals": cycle.reversals,
        "braked": cycle.braked,
    }
