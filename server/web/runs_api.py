"""Recorded runs over HTTP: list, read, note, delete and bring back, play. The guard has judged who asks."""

import asyncio
from typing import Any

from fastapi import APIRouter, HTTPException

from server.calibration.chosen import NoneKeptError, Which, instead
from server.config import ConfigError
from server.playing import Play
from server.recorded import Recorded
from server.rigs import Rigs
from server.runs.account import words
from server.runs.shelf import Shelved
from server.runs.thinned_run import thinned_words
from server.web.judged import judged
from server.web.models import Problem
from server.web.permissions import LOOK, MARK, change
from server.web.reading_api import Responses
from server.web.run_models import (
    DeletedOut,
    Emptied,
    EmptyIn,
    NoteIn,
    PlayChange,
    PlayIn,
    PlayOut,
    RunNamed,
    RunOut,
    TagsIn,
    WholeRunOut,
)
from server.web.run_records import counted_of, live_events, play_record, run_record

NO_RUNS: Responses = {503: {"model": Problem, "description": "The folder of the runs cannot be used."}}
NO_RUN: Responses = {**NO_RUNS, 404: {"model": Problem, "description": "There is no such run."}}
OPEN: Responses = {409: {"model": Problem, "description": "It is open, or its place is taken; it says what to do."}}
NO_CALIBRATION: Responses = {409: {"model": Problem, "description": "No calibration of its board is kept today."}}
WORDS_MAX = 200
_NOT_THERE = 'There is no run "{}" any more, or it was not deleted.'


def runs_routes(rigs: Rigs) -> APIRouter:
    """All routes about runs."""
    routes = APIRouter(prefix="/api", tags=["runs"])
    _add_lists(routes, rigs)
    _add_changes(routes, rigs)
    _add_plays(routes, rigs)
    return routes


def _add_lists(routes: APIRouter, rigs: Rigs) -> None:
    """What runs there are."""

    @routes.get("/runs", response_model=list[RunOut], responses=NO_RUNS, openapi_extra=LOOK)
    async def runs(words: str = "") -> object:
        """The recorded runs, newest first; `words`: those in which each of them stands, in motor, events, verdicts,
        alarms, note or #tags."""
        recorded = recorded_runs(rigs)
        found = await _read(asyncio.to_thread(recorded.shelf.runs, words[:WORDS_MAX]))
        return [await run_record(rigs, recorded, each) for each in found]

    @routes.get("/runs/deleted", response_model=list[DeletedOut], responses=NO_RUNS, openapi_extra=LOOK)
    async def deleted_runs() -> object:
        """What was deleted and can be brought back, the last deleted first."""
        found = await _read(asyncio.to_thread(recorded_runs(rigs).trash.runs))
        return [
            {
                "name": each.run.name,
                "rig": each.run.rig,
                "opened_utc_s": each.run.opened_utc_s,
                "closed_utc_s": each.run.closed_utc_s,
                "deleted_utc_s": each.deleted_utc_s,
                "removed_utc_s": each.removed_utc_s,
            }
            for each in found
        ]

    @routes.get("/runs/{name}", response_model=WholeRunOut, responses=NO_RUN, openapi_extra=LOOK)
    async def one_run(name: str) -> object:
        """One run: its events, its current from end to end, and what cannot be read of it."""
        recorded = recorded_runs(rigs)
        shelved = await known_run(recorded, name)
        digest = await asyncio.to_thread(recorded.shelf.whole_digest, shelved.summary) or {}
        counted = counted_of(rigs, shelved, recorded.shelf.folder / name)
        return {
            **await run_record(rigs, recorded, shelved),
            "events": digest.get("events") or live_events(rigs, shelved),
            "gaps": digest.get("gaps", []),
            "overview": digest.get("overview"),
            "troubles": digest.get("troubles", []),
            "thinned": await asyncio.to_thread(thinned_words, recorded.shelf.folder / name),
            "account": [{**line, "words": words(line)} for line in digest.get("account") or counted.lines],
            "counted_from_utc_s": counted.from_utc_s,
        }


def _add_changes(routes: APIRouter, rigs: Rigs) -> None:
    """A note, deleting a run, and bringing it back."""

    async def judge_deleting(name: str) -> None:
        recorded = recorded_runs(rigs)
        shelved = await known_run(recorded, name)
        if _is_open(rigs, recorded, shelved):
            raise HTTPException(409, f"{name} is still open; end the run first, then delete it.")

    async def judge_undo(name: str) -> None:
        deleted = await _read(asyncio.to_thread(recorded_runs(rigs).trash.runs))
        if name not in [each.run.name for each in deleted]:
            raise HTTPException(404, _NOT_THERE.format(name[:100]))

    @routes.put("/runs/{name}/note", response_model=RunNamed, responses=NO_RUN, openapi_extra=MARK)
    async def note(name: str, wanted: NoteIn) -> object:
        """Keep a note beside the run; an empty one takes it away."""
        recorded = recorded_runs(rigs)
        await known_run(recorded, name)
        await _done(recorded.note(name, wanted.note.strip()), name)
        return {"run": name}

    @routes.put("/runs/{name}/tags", response_model=RunNamed, responses=NO_RUN, openapi_extra=MARK)
    async def tags(name: str, wanted: TagsIn) -> object:
        """Keep tags beside the run in place of those before; the page compares with the one tagged `reference`."""
        recorded = recorded_runs(rigs)
        await known_run(recorded, name)
        await _done(recorded.tag(name, wanted.tags), name)
        return {"run": name}

    @routes.delete(
        "/runs/{name}",
        response_model=RunNamed,
        responses={**NO_RUN, **OPEN},
        openapi_extra=change("delete the run {name}"),
    )
    @judged(judge_deleting)
    async def delete(name: str) -> object:
        """Put a run aside. It can be brought back until it is removed for good; an open run is not deleted."""
        await judge_deleting(name)
        await _done(recorded_runs(rigs).delete(name), name)
        return {"run": name}

    @routes.post(
        "/runs/{name}/undo",
        response_model=RunNamed,
        responses={**NO_RUN, **OPEN},
        openapi_extra=change("bring the deleted run {name} back"),
    )
    @judged(judge_undo)
    async def undo(name: str) -> object:
        """Bring a deleted run back."""
        await _done(recorded_runs(rigs).undo(name), name)
        return {"run": name}

    @routes.post(
        "/runs/deleted/empty",
        response_model=Emptied,
        responses=NO_RUNS,
        openapi_extra=change("remove deleted runs for good"),
    )
    async def empty(wanted: EmptyIn) -> object:
        """Remove deleted runs for good, one or all. This cannot be undone."""
        return {"removed": await _done(recorded_runs(rigs).empty(wanted.run), wanted.run)}


def _add_plays(routes: APIRouter, rigs: Rigs) -> None:
    """Runs that are played."""

    @routes.get("/plays", response_model=list[PlayOut], responses=NO_RUNS, openapi_extra=LOOK)
    async def plays() -> object:
        """The runs that are played now."""
        return [play_record(play) for play in recorded_runs(rigs).plays]

    @routes.post("/plays", response_model=PlayOut, status_code=201, responses=NO_RUN, openapi_extra=MARK)
    async def play(wanted: PlayIn) -> object:
        """Play a run; live pictures of it come under the answer's `rig`. It is never recorded again."""
        recorded = recorded_runs(rigs)
        shelved = await known_run(recorded, wanted.run)
        if shelved.trouble:
            raise HTTPException(409, f"{wanted.run} cannot be played: {shelved.trouble}.")
        begun = await _done(recorded.play(shelved), wanted.run)
        if wanted.utc_s is not None:
            begun.go_to(wanted.utc_s)
        return play_record(begun)

    @routes.put("/plays/{name}", response_model=PlayOut, responses={**NO_RUN, **NO_CALIBRATION}, openapi_extra=MARK)
    async def change_play(name: str, wanted: PlayChange) -> object:
        """Pause it, let it go on, at another pace, from another place in the run, or with another calibration."""
        playing = _played(recorded_runs(rigs), name)
        if wanted.calibration is not None:
            _calibrate(rigs, playing, wanted.calibration)
        if wanted.pace is not None:
            playing.at_pace(wanted.pace)
        if wanted.utc_s is not None:
            playing.go_to(wanted.utc_s)
        if wanted.paused is not None:
            playing.pause(wanted.paused)
        return play_record(playing)

    @routes.delete("/plays/{name}", response_model=RunNamed, responses=NO_RUN, openapi_extra=MARK)
    async def stop_play(name: str) -> object:
        """Play it no more; the run stays as it is."""
        recorded = recorded_runs(rigs)
        _played(recorded, name)
        await recorded.stop_playing(name)
        return {"run": name}


def recorded_runs(rigs: Rigs) -> Recorded:
    """What is done with runs; raises the 503 that says why nothing is."""
    if rigs.recorded is None:
        raise HTTPException(503, "The folder of the runs cannot be used; the page's head says why.")
    return rigs.recorded


async def _read(reading: Any) -> Any:
    try:
        return await reading
    except OSError as error:
        raise HTTPException(503, f"The runs cannot be read ({error.strerror or error}).") from None


async def _done(doing: Any, name: str) -> Any:
    """What was asked for; why it could not be done, as a sentence."""
    try:
        return await doing
    except FileNotFoundError:
        raise HTTPException(404, _NOT_THERE.format(name[:100])) from None
    except FileExistsError:
        raise HTTPException(409, f"There is a run {name[:100]} already, so it stays where it is.") from None
    except OSError as error:
        raise HTTPException(503, f"{name[:100]} could not be changed ({error.strerror or error}).") from None


async def known_run(recorded: Recorded, name: str) -> Shelved:
    """The run of that name; raises the 404 that says so."""
    shelved: Shelved | None = await _read(asyncio.to_thread(recorded.shelf.get, name))
    if shelved is None:
        raise HTTPException(404, f'There is no run "{name[:100]}".')
    return shelved


def _played(recorded: Recorded, name: str) -> Play:
    playing = recorded.playing(name)
    if playing is None:
        raise HTTPException(404, f'The run "{name[:100]}" is not played.')
    return playing


def _calibrate(rigs: Rigs, play: Play, which: Which) -> None:
    try:
        play.calibrate(which, instead(which, play.serial, rigs.calibrations))
    except (NoneKeptError, ConfigError) as error:
        raise HTTPException(409, str(error)) from None


def _is_open(rigs: Rigs, recorded: Recorded, shelved: Shelved) -> bool:
    """It is recorded, or will go on when its board comes back: its rig is there, and has begun no other since."""
    summary = shelved.summary
    if summary.closed_utc_s is not None or rigs.get(summary.rig) is None:
        return False
    return recorded.shelf.newest(summary.rig) == summary
