"""Calibration over HTTP: what is kept, the live reading, measure, keep, undo. The guard has judged who asks."""

from dataclasses import asdict
from typing import Annotated

from fastapi import APIRouter, Query

from server.calibrating import Calibrating, Wish
from server.calibration.angle import LOADS
from server.calibration.entry import What
from server.calibration.guide import ALWAYS, GUIDES
from server.rigs import Rigs
from server.web.calibration_models import (
    CalibrationOut,
    EntryOut,
    LookOut,
    MeasuredOut,
    MeasureIn,
    UndoIn,
    WhatWord,
)
from server.web.judged import judged
from server.web.models import Problem
from server.web.permissions import LOOK, change
from server.web.reading_api import NOT_FOUND, Responses, known_rig

UNFIT: Responses = {409: {"model": Problem, "description": "What is measured now is not fit for it; it says why."}}


def calibration_routes(rigs: Rigs, calibrating: Calibrating) -> APIRouter:
    """All routes of a calibration."""
    routes = APIRouter(prefix="/api/rigs/{name}/calibration", responses={**NOT_FOUND, **UNFIT}, tags=["calibration"])

    async def judge_measure(name: str, wanted: MeasureIn) -> None:
        known_rig(rigs, name)

    async def judge_keep(name: str) -> None:
        known_rig(rigs, name)

    async def judge_undo(name: str, wanted: UndoIn) -> None:
        known_rig(rigs, name)

    @routes.get("", response_model=CalibrationOut, openapi_extra=LOOK)
    async def calibration(name: str) -> object:
        """How each channel of the board is calibrated, since when, against what, and what to do for another."""
        return {**calibrating.record(known_rig(rigs, name)), "guides": guide_records(), "loads": map(asdict, LOADS)}

    @routes.get("/look", response_model=LookOut, openapi_extra=LOOK)
    async def look(
        name: str, what: WhatWord, channel: int, against: Annotated[int | None, Query()] = None, load: str = ""
    ) -> object:
        """The live reading for a calibration, with its scatter. The first look begins to gather it."""
        return calibrating.look(known_rig(rigs, name), Wish(What(what), channel, against, load))

    @routes.post(
        "/measure",
        response_model=MeasuredOut,
        openapi_extra=change("measure for the {what} calibration of channel {channel} of {name}"),
    )
    @judged(judge_measure)
    async def measure(name: str, wanted: MeasureIn) -> object:
        """Measure with what was seen in the last three seconds. Nothing changes before it is kept."""
        return calibrating.measure(known_rig(rigs, name), Wish(**{**wanted.model_dump(), "what": What(wanted.what)}))

    @routes.post(
        "/keep", response_model=EntryOut, openapi_extra=change("keep the calibration that was measured last on {name}")
    )
    @judged(judge_keep)
    async def keep(name: str) -> object:
        """What was measured last holds from now on, and is kept with its date, reference and uncertainty."""
        return await calibrating.keep(known_rig(rigs, name))

    @routes.post(
        "/undo",
        response_model=EntryOut,
        openapi_extra=change("take the {what} calibration of channel {channel} of {name} back"),
    )
    @judged(judge_undo)
    async def undo(name: str, wanted: UndoIn) -> object:
        """Take the newest one back that holds; the one before it holds again."""
        return await calibrating.undo(known_rig(rigs, name), wanted.channel, What(wanted.what))

    return routes


def guide_records() -> dict[str, dict[str, object]]:
    """Cautions and steps of each calibration."""
    return {
        what.value: {"about": guide.about, "cautions": [*ALWAYS, *guide.cautions], "steps": list(guide.steps)}
        for what, guide in GUIDES.items()
    }
