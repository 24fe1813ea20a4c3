"""Alarms over HTTP: listed, acknowledged, shelved. The guard has judged who asks."""

from typing import Literal

from fastapi import APIRouter, HTTPException, Request
from pydantic import BaseModel, Field

from server.access.permission import Kind
from server.alarming import Alarming
from server.alarms.engine import NOTE_MAX, SHELF_MAX_S, Act
from server.alarms.known import EVENT_KINDS, VERDICT_KEYS
from server.all_alarms import AllAlarms
from server.live.bench import alarms_record
from server.rigs import Rigs
from server.web.guard import VISITOR
from server.web.judged import judged
from server.web.models import Problem
from server.web.permissions import LOOK, MARK, change
from server.web.reading_api import NOT_FOUND, Responses, known_rig
from server.web.settings_models import TEXT_MAX, Line, Strict

OVER: Responses = {409: {"model": Problem, "description": "It is not so any more: the alarm is over, or another one."}}


class Acknowledge(Strict):
    """Which alarm, by its id, and what was found."""

    id: str = Field(max_length=TEXT_MAX)
    note: Line = Field("", max_length=NOTE_MAX)


class Shelve(Strict):
    """Which one, by the name of what is watched; for how long nobody is told of it, and why."""

    alarm: str = Field(max_length=TEXT_MAX)
    for_s: float = Field(gt=0.0, le=SHELF_MAX_S)
    reason: Line = Field(min_length=1, max_length=NOTE_MAX)


class Unshelve(Strict):
    """Which one, by the name of what is watched."""

    alarm: str = Field(max_length=TEXT_MAX)


class AcknowledgedOut(BaseModel):
    """When, what was noted, on which device."""

    at_utc_s: float
    note: str
    by: str


class AlarmOut(BaseModel):
    """One alarm that is not over; fields as in SOCKET.md."""

    rig: str
    id: str
    name: str
    rank: Literal["alarm", "caution"]
    act: str
    why: str
    reading: str
    value: str
    limit: str
    unknown: str
    more: int
    first_utc_s: float | None
    first_id: str
    so_s: float
    quiet_utc_s: float | None
    held_until_utc_s: float | None
    raised_utc_s: float
    acknowledged: AcknowledgedOut | None
    ended_utc_s: float | None
    shelved_until_utc_s: float | None


class AlarmsOut(BaseModel):
    """The alarms of all rigs, the worst first; more: so many are left out; trouble: why some are not watched, or ""."""

    standing: list[AlarmOut]
    more: int
    trouble: str


class ShelfOut(BaseModel):
    """Until when it is not told of, why, who shelved it, and how often it came meanwhile."""

    until_utc_s: float
    reason: str
    by: str
    missed: int
    id: str


class WatchedOut(BaseModel):
    """Something that is watched for, or with watched = false a ready alarm that nobody has turned on."""

    name: str
    says: str
    watched: bool
    ready: bool
    rank: str
    act: str
    cause: str
    why: str
    when: str
    shelf: ShelfOut | None


class ToldOut(BaseModel):
    """One change of an alarm's life: raised, acknowledged, ended, shelved, unshelved or again."""

    number: int
    id: str
    rig: str
    kind: str
    rank: str
    at_utc_s: float
    act: str
    why: str
    reading: str
    value: str
    limit: str
    note: str
    by: str
    more: int
    receivers: list[str]
    not_before_utc_s: float | None
    run: str
    motor: str
    first_utc_s: float | None
    first_id: str
    so_s: float
    name: str


class RigAlarmsOut(BaseModel):
    """Alarms of a rig that are not over, what is watched, and the newest changes, newest first."""

    alarms: list[AlarmOut]
    watched: list[WatchedOut]
    told: list[ToldOut]
    trouble: str


class KindsOut(BaseModel):
    """What alarms can be set on beside readings: kinds of events and keys of verdicts, each with its words."""

    events: dict[str, str]
    verdicts: dict[str, str]


class ActedOut(BaseModel):
    """What was done to which alarm or to what is watched."""

    rig: str
    alarm: str
    done: str


def alarms_routes(rigs: Rigs, alarms: AllAlarms) -> APIRouter:
    """All routes of alarms."""
    routes = APIRouter(prefix="/api", tags=["alarms"])
    _add_looking(routes, rigs, alarms)
    _add_acting(routes, rigs, alarms)
    return routes


def _add_looking(routes: APIRouter, rigs: Rigs, alarms: AllAlarms) -> None:
    @routes.get("/alarms", response_model=AlarmsOut, openapi_extra=LOOK)
    async def all_alarms() -> object:
        """The alarms of all rigs that are not over, without shelved ones. Slipring never stops a motor."""
        return alarms_record(alarms.standing(), alarms.troubles())

    @routes.get("/alarm-kinds", response_model=KindsOut, openapi_extra=LOOK)
    async def kinds() -> object:
        """What alarms can be set on."""
        return {"events": EVENT_KINDS, "verdicts": VERDICT_KEYS}

    @routes.get("/rigs/{name}/alarms", response_model=RigAlarmsOut, responses=NOT_FOUND, openapi_extra=LOOK)
    async def of_rig(name: str) -> object:
        """What stands, what is watched and what was told of one rig."""
        return _known(rigs, alarms, name).record()


def _add_acting(routes: APIRouter, rigs: Rigs, alarms: AllAlarms) -> None:
    async def act(name: str, what: str, alarm: str, request: Request, note: str = "", for_s: float = 0.0) -> object:
        at_utc_s = known_rig(rigs, name).view.time.of(rigs.utc_s())
        done = Act(what, alarm, at_utc_s, note, _who(request), at_utc_s + for_s)
        if not await alarms.act(name, done):
            raise HTTPException(409, f"There is nothing to {what} of {alarm[:80]} on {name}.")
        return {"rig": name, "alarm": alarm, "done": what}

    @routes.post(
        "/rigs/{name}/alarms/acknowledge",
        response_model=ActedOut,
        responses={**NOT_FOUND, **OVER},
        openapi_extra=MARK,
    )
    async def acknowledge(name: str, wanted: Acknowledge, request: Request) -> object:
        """A person has seen it and takes care of it. It stands on while it is so."""
        standing = _known(rigs, alarms, name).standing()
        found = next((str(each["name"]) for each in standing if each["id"] == wanted.id), "")
        if not found:
            raise HTTPException(409, "This alarm is over, or has been taken in by a newer one.")
        return await act(name, "acknowledge", found, request, wanted.note)

    async def judge_shelve(name: str, wanted: Shelve) -> None:
        _watched(_known(rigs, alarms, name), wanted.alarm)

    @routes.post(
        "/rigs/{name}/alarms/shelve",
        response_model=ActedOut,
        responses={**NOT_FOUND, **OVER},
        openapi_extra=change("tell nobody of the alarm {alarm} of {name} for {for_s} s"),
    )
    @judged(judge_shelve)
    async def shelve(name: str, wanted: Shelve, request: Request) -> object:
        """Nobody is told of it for a while, twelve hours at most; then it comes back by itself."""
        _watched(_known(rigs, alarms, name), wanted.alarm)
        return await act(name, "shelve", wanted.alarm, request, wanted.reason, wanted.for_s)

    @routes.post(
        "/rigs/{name}/alarms/unshelve",
        response_model=ActedOut,
        responses={**NOT_FOUND, **OVER},
        openapi_extra=MARK,
    )
    async def unshelve(name: str, wanted: Unshelve, request: Request) -> object:
        """It is told of again."""
        _known(rigs, alarms, name)
        return await act(name, "unshelve", wanted.alarm, request)


def _known(rigs: Rigs, alarms: AllAlarms, name: str) -> Alarming:
    """The alarms of a rig; raises the 404 that says so."""
    known_rig(rigs, name)
    found = alarms.of(name)
    if found is None:
        raise HTTPException(404, f"The alarms of {name} are not watched yet; ask again in a second.")
    return found


def _watched(alarming: Alarming, alarm: str) -> None:
    if alarm not in (rule.name for rule in alarming.rules):
        there = ", ".join(rule.name for rule in alarming.rules)
        raise HTTPException(409, f"{alarming.rig} watches no alarm {alarm[:80]}; it watches {there}.")


def _who(request: Request) -> str:
    """On which device it was done; a page of this PC has no name worth telling."""
    visitor = request.scope[VISITOR]
    if visitor.kind is Kind.DEVICE and visitor.session is not None:
        return str(visitor.session.name)
    return "this PC"
