"""GET: what a run or a stretch of time of a rig came to, at once, from the logs. Changes nothing."""

import asyncio
from collections import Counter
from collections.abc import Collection
from dataclasses import asdict
from typing import Annotated, Any, Literal

from fastapi import APIRouter, HTTPException, Query
from pydantic import BaseModel

from server.alarms.shown import is_so
from server.all_alarms import AllAlarms
from server.live.view import FAR_LINE
from server.motors import motor_type
from server.recorded import Recorded
from server.report.answer import answer_of
from server.report.logged import Logged, logged
from server.report.stories import raised_of
from server.report.words import Times
from server.rig import Rig
from server.rigs import Rigs
from server.runs.account import words
from server.runs.account_so_far import Counted
from server.runs.library import RunSummary
from server.web.alarms_api import ToldOut
from server.web.permissions import LOOK
from server.web.reading_api import known_rig
from server.web.run_models import AccountOut
from server.web.run_records import counted_of, run_record
from server.web.runs_api import NO_RUN, known_run, recorded_runs
from server.web.settings_models import Number
from server.web.trends_api import RUNS_MAX, SPAN, span_of

ACCOUNTS_MAX = 50  # runs whose accounts are read and summed for one answer; each is a file


class SignOut(BaseModel):
    """A fact that speaks for the answer, against something else, is not known, or only says how it was."""

    mark: Literal["for", "against", "missing", "note"]
    text: str


class HoleOut(BaseModel):
    """Nothing was recorded from here to there, and why."""

    from_utc_s: float
    to_utc_s: float
    reason: str


class PartOut(BaseModel):
    """A run and the stretch of it that its log holds."""

    run: str
    from_utc_s: float
    to_utc_s: float


class NightOut(BaseModel):
    """What it came to: answer in a sentence, signs, what is not known, what to do next. spent: seconds of each run
    state and "not recorded"; counts: events by their kind; energy_j, charge_c: null where nothing measures them, and
    with sums_short they are at least so much; account: promised, stored and missing samples of the runs (accounts: of
    how many of them; one that is recorded now so far, counted_from_utc_s as of a run); alarms: the lives of those of
    which something was told, as kept with the runs, and where it reaches to now what raised those that stand;
    silent_since_utc_s: since when nothing has come any more of a run that has not closed, null: it came up to the end;
    motor, type, far: whose night it was, and the ids of the readings that tell most of such a motor."""

    motor: str
    type: str
    far: list[str]
    from_utc_s: float
    to_utc_s: float
    answer: str
    signs: list[SignOut]
    unknown: list[str]
    next: str
    caution: str
    gaps: list[HoleOut]
    silent_since_utc_s: Number
    spent: dict[str, float]
    counts: dict[str, int]
    energy_j: Number
    charge_c: Number
    sums_short: bool
    account: list[AccountOut]
    accounts: int
    counted_from_utc_s: Number
    alarms: list[ToldOut]
    runs: list[PartOut]
    troubles: list[str]


def night_routes(rigs: Rigs, alarms: AllAlarms) -> APIRouter:
    """The routes of this file."""
    routes = APIRouter(prefix="/api", tags=["runs"])

    @routes.get("/runs/{name}/night", response_model=NightOut, responses=NO_RUN, openapi_extra=LOOK)
    async def of_run(name: str) -> object:
        """What a run came to, recorded now or before. What does not come of one that goes on is missing up to now."""
        recorded = recorded_runs(rigs)
        shelved = await known_run(recorded, name)
        its = await run_record(rigs, recorded, shelved)
        counted = counted_of(rigs, shelved, recorded.shelf.folder / name)
        rig = rigs.get(shelved.summary.rig)
        is_open = rig is not None and _goes_on(rig, shelved.summary)
        goes_on = rig is not None and is_open and _logs(rig)
        now_utc_s, stand = _now_utc_s(rigs, rig), _standing(alarms, shelved.summary.rig) if is_open else []
        runs = [shelved.summary]
        found = await asyncio.to_thread(_answered, recorded, runs, None, now_utc_s, counted, goes_on, stand)
        return {**_whose(its["motor"], its["type"]), **found}

    @routes.get("/rigs/{name}/night", response_model=NightOut, responses={**NO_RUN, **SPAN}, openapi_extra=LOOK)
    async def of_rig(
        name: str,
        from_utc_s: Annotated[float, Query(alias="from", ge=0.0, le=1e11, description="UTC seconds.")],
        to_utc_s: Annotated[float, Query(alias="to", ge=0.0, le=1e11, description="UTC seconds.")],
    ) -> object:
        """What all runs of a rig in a span came to."""
        rig, span = known_rig(rigs, name), span_of(from_utc_s, to_utc_s)
        recorded = recorded_runs(rigs)
        runs = await recorded.runs_of(rig.name, *span)
        if len(runs) > RUNS_MAX:
            raise HTTPException(422, f"There are {len(runs)} runs in this span, and {RUNS_MAX} are read; ask for less.")
        counted = await _counted_in(rigs, recorded, runs)
        goes_on = bool(runs) and _goes_on(rig, runs[-1]) and _logs(rig)
        now_utc_s, stand = _now_utc_s(rigs, rig), _standing(alarms, rig.name)
        found = await asyncio.to_thread(_answered, recorded, runs, span, now_utc_s, counted, goes_on, stand)
        return {**_whose(rig.view.motor.name, rig.view.motor.type), **found}

    return routes


def _now_utc_s(rigs: Rigs, rig: Rig | None) -> float:
    """By the rig's own time: a demo motor's may be faster or slower than ours."""
    return rigs.utc_s() if rig is None else rig.view.time.of(rigs.utc_s())


def _standing(alarms: AllAlarms, rig: str) -> list[dict[str, object]]:
    """Its alarms that stand."""
    found = alarms.of(rig)
    return [] if found is None else found.standing()


def _goes_on(rig: Rig, run: RunSummary) -> bool:
    """Whether it is recorded now, or was left open and its board is waited for."""
    awaited = "" if rig.recording is None else rig.recording.awaited
    return run.closed_utc_s is None and run.name in (rig.view.recorded().run, awaited)


def _logs(rig: Rig) -> bool:
    """Whether what its log does not have did not come: the log has not stopped."""
    return rig.recording is not None and not rig.recording.logging.reason


def _whose(motor: str, type_key: str) -> dict[str, Any]:
    kind = motor_type(type_key)
    return {"motor": motor, "type": type_key, "far": list(kind.far_line if kind else FAR_LINE)}


async def _counted_in(rigs: Rigs, recorded: Recorded, runs: list[RunSummary]) -> Counted:
    """Of the one that is recorded now, if it is among them: the newest."""
    if not runs or runs[-1].closed_utc_s is not None:
        return Counted([])
    return counted_of(rigs, await known_run(recorded, runs[-1].name), recorded.shelf.folder / runs[-1].name)


def _answered(
    recorded: Recorded,
    runs: list[RunSummary],
    span: tuple[float, float] | None,
    now_utc_s: float,
    counted: Counted,
    goes_on: bool,
    stand: list[dict[str, object]],
) -> dict[str, Any]:
    accounts = _accounts(recorded, runs[:-1] if counted.lines else runs)
    accounts += [counted.lines] if counted.lines else []
    account = summed([line for lines in accounts for line in lines])
    found = logged(recorded.shelf.folder, runs, span, now_utc_s, tuple(account), goes_on, raised_of(stand))
    over = {str(each["id"]) for each in stand if not is_so(each)}
    return {**night_record(found, over), "accounts": len(accounts), "counted_from_utc_s": counted.from_utc_s}


def _accounts(recorded: Recorded, runs: list[RunSummary]) -> list[list[dict[str, Any]]]:
    """Of runs that are summed up; of more than are read here, none: a part of the sum would be no sum."""
    if len(runs) > ACCOUNTS_MAX:
        return []
    digests = [recorded.shelf.whole_digest(each) for each in runs]
    return [digest["account"] for digest in digests if digest is not None and digest.get("account")]


def summed(lines: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Accounts of several runs as one: lines of the same counter with the same channels added."""
    sums: dict[tuple[Any, ...], dict[str, Any]] = {}
    for line in lines:
        key = line["what"], line["number"], tuple(line["channels"])
        its = sums.get(key)
        if its is None:
            sums[key] = {**line, "missing": dict(line["missing"])}
            continue
        for name in ("promised", "stored", "again", "starts_anew"):
            its[name] += line[name]
        its["missing"] = dict(Counter(its["missing"]) + Counter(line["missing"]))
        its["exact"] = its["exact"] and line["exact"]
    return list(sums.values())


def night_record(its: Logged, over: Collection[str] = ()) -> dict[str, Any]:
    """Ready for JSON, without `accounts`."""
    answer = answer_of(its, Times(its.from_utc_s, its.to_utc_s), None, its.gone, its.standing, over)
    return {
        "from_utc_s": its.from_utc_s,
        "to_utc_s": its.to_utc_s,
        "answer": answer.text,
        "signs": [{"mark": sign.mark, "text": sign.text} for sign in answer.signs],
        "unknown": list(answer.unknown),
        "next": answer.next,
        "caution": answer.caution,
        "gaps": [
            {"from_utc_s": hole.from_utc_s, "to_utc_s": hole.to_utc_s, "reason": hole.reason} for hole in its.holes
        ],
        "silent_since_utc_s": None if its.gone is None else its.gone.from_utc_s,
        "spent": {state: seconds for state, (_, seconds) in its.spent.items()},
        "counts": its.counts,
        "energy_j": its.energy_j,
        "charge_c": its.charge_c,
        "sums_short": its.sums_short,
        "account": [{**line, "words": words(line)} for line in its.account],
        "alarms": [asdict(each) for each in its.alarms or ()],
        "runs": [
            {"run": part.run, "from_utc_s": part.span[0], "to_utc_s": part.span[1]}
            for part in its.parts
            if part.span is not None
        ],
        "troubles": list(its.troubles),
    }
