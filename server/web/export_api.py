"""Exports and reports of runs over HTTP: size beforehand, made, listed, fetched, removed. The guard has judged."""

import asyncio
from math import inf
from typing import Annotated, Any, Literal

from fastapi import APIRouter, HTTPException, Query, Request
from fastapi.responses import FileResponse
from pydantic import BaseModel, ConfigDict, Field

from server.export import ExportError, Wanted, What
from server.exporting import Content, Exporting, Making, TooManyError, formats
from server.report.make import Form, Paper
from server.rigs import Rigs
from server.web.asker import unless_left
from server.web.models import Problem
from server.web.permissions import LOOK, MARK
from server.web.reading_api import Responses
from server.web.runs_api import NO_RUN, NO_RUNS
from server.web.settings_models import Number

NO_EXPORT: Responses = {
    **NO_RUNS,
    404: {"model": Problem, "description": "There is no such export, or it is not made."},
}
REFUSED: Responses = {409: {"model": Problem, "description": "It cannot be made; it says why and what to do."}}
A_FILE: Responses = {200: {"content": {"application/octet-stream": {"schema": {"type": "string", "format": "binary"}}}}}
_UTC = Annotated[float | None, Query(allow_inf_nan=False)]


class FormatOut(BaseModel):
    """One file format. whats: what it can hold, its usual content first; trouble: why it cannot be written here."""

    key: str
    label: str
    suffix: str
    whats: list[What]
    trouble: str


class SizeOut(BaseModel):
    """About how large a file would be; fits: the disk has room for it and for recordings beside it."""

    bytes: int
    from_utc_s: float
    to_utc_s: float
    fits: bool


class FileSizeOut(BaseModel):
    """About how large a run is as one file; fits: the disk has room for it and for recordings beside it."""

    bytes: int
    fits: bool


class ExportIn(BaseModel):
    """What to export: `as` is the key of a format; times null: from the beginning, to the end; group null: the fastest
    group of evenly sampled channels."""

    model_config = ConfigDict(extra="forbid")

    run: str = Field(max_length=200)
    key: str = Field(alias="as", max_length=20)
    what: What = "readings"
    from_utc_s: float | None = Field(None, allow_inf_nan=False)
    to_utc_s: float | None = Field(None, allow_inf_nan=False)
    group: int | None = Field(None, ge=0, le=255)


class ExportOut(BaseModel):
    """One export or report. share: how far it is, from 0 to 1; bytes: of the made file; file: where to fetch it;
    source: where its figures come from: the log of the run or its samples, and why."""

    number: int
    run: str
    key: str = Field(serialization_alias="as")
    what: Content
    from_utc_s: Number
    to_utc_s: Number
    state: Literal["waiting", "making", "made", "failed"]
    share: float
    bytes: int | None
    file: str | None
    file_name: str
    trouble: str
    source: str


class ReportIn(BaseModel):
    """How to make a report: as a page of HTML or as PDF, for which paper."""

    model_config = ConfigDict(extra="forbid")

    key: Form = Field("pdf", alias="as")
    paper: Paper = "a4"


class ExportNamed(BaseModel):
    """The export that was removed."""

    number: int


def export_routes(rigs: Rigs) -> APIRouter:
    """The routes of this file."""
    routes = APIRouter(prefix="/api", tags=["exports"])
    _add_asking(routes, rigs)
    _add_making(routes, rigs)
    return routes


def _add_asking(routes: APIRouter, rigs: Rigs) -> None:
    """Which formats there are, and how large an export would be."""

    @routes.get("/exports/formats", response_model=list[FormatOut], openapi_extra=LOOK)
    async def export_formats() -> object:
        """The file formats, in reading order."""
        return await asyncio.to_thread(formats)

    @routes.get("/runs/{name}/export-size", response_model=SizeOut, responses={**NO_RUN, **REFUSED}, openapi_extra=LOOK)
    async def export_size(
        request: Request,
        name: str,
        key: Annotated[str, Query(alias="as", max_length=20)],
        what: What = "readings",
        from_utc_s: _UTC = None,
        to_utc_s: _UTC = None,
        group: Annotated[int | None, Query(ge=0, le=255)] = None,
    ) -> object:
        """About how large an export would be, by making a few seconds of it."""
        exporting = await _exporting(rigs, name)
        size = exporting.estimate(name, key, _wanted(what, from_utc_s, to_utc_s, group))
        try:
            return await unless_left(request, size)
        except (ExportError, OSError) as error:
            raise HTTPException(409, _sentence(error)) from None
        except TooManyError as error:
            raise HTTPException(409, f"{_sentence(error)[:-1]}; ask again in a moment.") from None

    @routes.get(
        "/runs/{name}/file-size", response_model=FileSizeOut, responses={**NO_RUN, **REFUSED}, openapi_extra=LOOK
    )
    async def file_size(name: str) -> object:
        """About how large the run is as one file."""
        exporting = await _exporting(rigs, name)
        try:
            return await asyncio.to_thread(exporting.parcel_size, name)
        except (ExportError, OSError) as error:
            raise HTTPException(409, _sentence(error)) from None


def _add_making(routes: APIRouter, rigs: Rigs) -> None:
    """Exports that are made, and their files."""

    @routes.get("/exports", response_model=list[ExportOut], responses=NO_RUNS, openapi_extra=LOOK)
    async def exports() -> object:
        """Exports that are kept or made now, the newest first; they end with the service."""
        return [_record(each) for each in (await _exporting(rigs)).makings]

    @routes.post(
        "/exports",
        response_model=ExportOut,
        status_code=201,
        responses={**NO_RUN, **REFUSED},
        openapi_extra=MARK,
    )
    async def export(wanted: ExportIn) -> object:
        """Make an export, one after another, at low priority; the list tells how far it is."""
        exporting = await _exporting(rigs, wanted.run)
        how = _wanted(wanted.what, wanted.from_utc_s, wanted.to_utc_s, wanted.group)
        try:
            return _record(exporting.begin(wanted.run, wanted.key, how))
        except ExportError as error:
            raise HTTPException(409, _sentence(error)) from None
        except TooManyError as error:
            raise HTTPException(409, f"{_sentence(error)[:-1]}; remove one first.") from None

    @routes.post(
        "/runs/{name}/report",
        response_model=ExportOut,
        status_code=201,
        responses={**NO_RUN, **REFUSED},
        openapi_extra=MARK,
    )
    async def report(name: str, wanted: ReportIn) -> object:
        """Make the report of a run; it stands among the exports, which tell how far it is."""
        exporting = await _exporting(rigs, name)
        try:
            return _record(exporting.begin_report(name, wanted.key, wanted.paper))
        except TooManyError as error:
            raise HTTPException(409, f"{_sentence(error)[:-1]}; remove one first.") from None

    @routes.post(
        "/runs/{name}/file",
        response_model=ExportOut,
        status_code=201,
        responses={**NO_RUN, **REFUSED},
        openapi_extra=MARK,
    )
    async def run_file(name: str) -> object:
        """Make one file of a run, with its notes and checks, as `slipring send` does; it stands among the exports."""
        exporting = await _exporting(rigs, name)
        try:
            return _record(exporting.begin_parcel(name))
        except TooManyError as error:
            raise HTTPException(409, f"{_sentence(error)[:-1]}; remove one first.") from None

    @routes.get(
        "/exports/{number}/file", response_class=FileResponse, responses={**NO_EXPORT, **A_FILE}, openapi_extra=LOOK
    )
    async def file(number: int) -> FileResponse:
        """The file that was made, under its name."""
        making = (await _exporting(rigs)).get(number)
        if making is None or making.state != "made":
            raise HTTPException(404, f"There is no export {number}, or it is not made yet.")
        return FileResponse(
            making.path, media_type=making.media_type, filename=making.file_name, headers={"cache-control": "no-store"}
        )

    @routes.delete("/exports/{number}", response_model=ExportNamed, responses=NO_EXPORT, openapi_extra=MARK)
    async def remove(number: int) -> object:
        """Make it no more, or remove the file that was made. The run stays as it is."""
        try:
            (await _exporting(rigs)).remove(number)
        except KeyError:
            raise HTTPException(404, f"There is no export {number}.") from None
        return {"number": number}


async def _exporting(rigs: Rigs, run: str | None = None) -> Exporting:
    """`run`: it must be there."""
    if rigs.recorded is None:
        raise HTTPException(503, "The folder of the runs cannot be used; the page's head says why.")
    if run is not None:
        try:
            there = await asyncio.to_thread(rigs.recorded.shelf.get, run)
        except OSError as error:
            raise HTTPException(503, f"The runs cannot be read ({error.strerror or error}).") from None
        if there is None:
            raise HTTPException(404, f'There is no run "{run[:100]}".')
    return rigs.recorded.exporting


def _wanted(what: What, from_utc_s: float | None, to_utc_s: float | None, group: int | None) -> Wanted:
    since, to = (-inf if from_utc_s is None else from_utc_s), (inf if to_utc_s is None else to_utc_s)
    return Wanted(what, since, to, group)


def _sentence(error: Exception) -> str:
    said = (getattr(error, "strerror", None) or str(error)).rstrip(".")
    return f"{said[:1].upper()}{said[1:]}."


def _record(making: Making) -> dict[str, Any]:
    its = making.wanted
    return {
        "number": making.number,
        "run": making.run,
        "key": making.key,
        "what": making.what,
        "from_utc_s": None if its.from_utc_s == -inf else its.from_utc_s,
        "to_utc_s": None if its.to_utc_s == inf else its.to_utc_s,
        "state": making.state,
        "share": making.share,
        "bytes": making.bytes,
        "file": f"/api/exports/{making.number}/file" if making.state == "made" else None,
        "file_name": making.file_name,
        "trouble": making.trouble,
        "source": making.source,
    }
