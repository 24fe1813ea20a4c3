"""Exports and reports that are made for the service: one after another, each by a child process of low priority.

They are copies: the newest few are kept beside the runs until a person removes them or the service ends.
"""

import asyncio
import json
import logging
import re
from asyncio.subprocess import Process
from contextlib import suppress
from dataclasses import asdict, dataclass
from itertools import count
from math import isfinite
from pathlib import Path
from typing import Any, Literal, TypeAlias

from server.export import EXPORTS, ExportError, Wanted, What
from server.export.make import export_named
from server.low_priority import answers, asking
from server.report.make import MEDIA_TYPES, Form, Paper
from server.runs.parcel import SUFFIX, ParcelError, bytes_of
from server.runs.shelf import Shelf
from server.runs.space import least_free
from server.whole_file import free_and_total

KEPT_MAX = 8  # exports at once, made or waiting: each is as large as its run
ESTIMATE_S = 60.0  # a stretch of seconds is exported in less, whatever else this PC does
ESTIMATES_MAX = 4  # at once, under way or waiting: each takes seconds of a core
EXPORT, REPORT, PARCEL = "server.export.make", "server.report.make", "server.export.parcel"
_OURS = re.compile(r"[0-9]+\.[a-z]+(\.part)?")
Content: TypeAlias = What | Literal["report", "run"]
State: TypeAlias = Literal["waiting", "making", "made", "failed"]

log = logging.getLogger(__name__)


class TooManyError(Exception):
    """So many exports are kept, or so many sizes asked for, that there is no place for one more."""


@dataclass(slots=True)
class _Estimate:
    """One size that is worked out, and for how many."""

    work: asyncio.Task[dict[str, Any]]
    askers: int = 0


@dataclass(slots=True)
class Making:
    """One export, a report, or a run as one file. `program` makes what `request` says. `share`: how far it is; `bytes`:
    of the made file; `trouble`: why it failed, or empty; `source`: where its figures come from, once it is made."""

    number: int
    run: str
    key: str
    what: Content
    wanted: Wanted
    program: str
    request: dict[str, Any]
    file_name: str
    media_type: str
    path: Path
    state: State = "waiting"
    share: float = 0.0
    bytes: int | None = None
    trouble: str = ""
    source: str = ""


class Exporting:
    """Of one shelf. Called on the event loop's thread. Cancel `run()` to end; the child ends with it."""

    def __init__(self, shelf: Shelf) -> None:
        self._shelf, self._folder = shelf, shelf.folder.parent / "exports"
        self._numbers, self._asked = count(1), asyncio.Event()
        self._makings: dict[int, Making] = {}
        self._child: tuple[int, Process] | None = None
        self._estimates: dict[str, _Estimate] = {}  # by their question
        self._one = asyncio.Lock()  # of them: one at a time

    @property
    def makings(self) -> tuple[Making, ...]:
        """The newest first."""
        return tuple(reversed(self._makings.values()))

    def get(self, number: int) -> Making | None:
        return self._makings.get(number)

    def begin(self, run: str, key: str, wanted: Wanted) -> Making:
        """Raises ExportError for what no format holds, TooManyError."""
        export, request = export_named(key, wanted), _request(self._shelf.folder / run, key, wanted)
        name = f"{run}-{wanted.what}{export.suffix}"
        return self._begin(run, key, wanted.what, wanted, EXPORT, request, name, export.media_type)

    def begin_report(self, run: str, form: Form, paper: Paper) -> Making:
        """Raises TooManyError."""
        request = {"run": str(self._shelf.folder / run), "as": form, "paper": paper}
        return self._begin(run, form, "report", Wanted(), REPORT, request, f"{run}-report.{form}", MEDIA_TYPES[form])

    def begin_parcel(self, run: str) -> Making:
        """The run as one file. Raises TooManyError."""
        request, name = {"run": str(self._shelf.folder / run)}, f"{run}{SUFFIX}"
        return self._begin(run, SUFFIX[1:], "run", Wanted(), PARCEL, request, name, "application/octet-stream")

    def parcel_size(self, run: str) -> dict[str, Any]:
        """`bytes`, about, of the run as one file, and whether it `fits`. Raises ExportError, OSError."""
        try:
            size = bytes_of(self._shelf.folder / run)
        except ParcelError as error:
            raise ExportError(str(error)) from None
        return {"bytes": size, "fits": self._fits(size)}

    def _fits(self, size: int) -> bool:
        free, total = free_and_total(self._shelf.folder)
        return size + least_free(total) < free

    def _begin(
        self,
        run: str,
        key: str,
        what: Content,
        wanted: Wanted,
        program: str,
        request: dict[str, Any],
        name: str,
        media_type: str,
    ) -> Making:
        if len(self._makings) >= KEPT_MAX:
            raise TooManyError(f"{KEPT_MAX} exports are kept already")
        number = next(self._numbers)
        path = self._folder / f"{number}{Path(name).suffix}"
        request = {**request, "target": str(path)}
        making = Making(number, run, key, what, wanted, program, request, name, media_type, path)
        self._makings[number] = making
        self._asked.set()
        return making

    def remove(self, number: int) -> None:
        """Make it no more, or remove what was made; KeyError where there is none."""
        making = self._makings.pop(number)
        if self._child is not None and self._child[0] == number:
            self._child[1].kill()  # its file is removed when it has ended
        else:
            making.path.unlink(missing_ok=True)

    async def run(self) -> None:
        """Make what is asked for; what an earlier service left is removed."""
        await asyncio.to_thread(self._clear)
        try:
            while True:
                waiting = next((each for each in self._makings.values() if each.state == "waiting"), None)
                if waiting is None:
                    await self._asked.wait()
                    self._asked.clear()
                    continue
                await self._make(waiting)
        finally:
            self._clear()

    def _clear(self) -> None:
        """Files that we made, and nothing else that lies there."""
        with suppress(OSError):
            for path in self._folder.iterdir():
                if _OURS.fullmatch(path.name):
                    path.unlink()
            self._folder.rmdir()

    async def _make(self, making: Making) -> None:
        making.state = "making"
        try:
            self._folder.mkdir(mode=0o700, exist_ok=True)
            said = await self._ask(making.program, making.request, making)
        except OSError as error:
            said = {"trouble": f"{error.filename or 'the export'} cannot be written: {error.strerror or error}"}
        if self._makings.get(making.number) is not making:
            making.path.unlink(missing_ok=True)
            making.path.with_name(making.path.name + ".part").unlink(missing_ok=True)
        elif "bytes" in said and making.path.is_file():
            making.state, making.share, making.bytes = "made", 1.0, said["bytes"]
            making.source = said.get("source", "")
        else:
            making.state, making.trouble = "failed", said.get("trouble", "its program ended without a word")
            log.warning("%s could not be exported: %s", making.run, making.trouble)

    async def estimate(self, run: str, key: str, wanted: Wanted) -> dict[str, Any]:
        """`bytes`, `from_utc_s`, `to_utc_s` of what an export would be. Cancel it to ask no more.

        Raises ExportError; TooManyError; OSError.
        """
        export_named(key, wanted)
        question = json.dumps({**_request(self._shelf.folder / run, key, wanted), "target": None})
        its = self._estimates.get(question)
        if its is None:
            if len(self._estimates) >= ESTIMATES_MAX:
                raise TooManyError(f"{ESTIMATES_MAX} sizes are being worked out already")
            its = self._estimates[question] = _Estimate(asyncio.create_task(self._estimated(question)))
        its.askers += 1
        try:
            said = await asyncio.shield(its.work)
        finally:
            its.askers -= 1
            if not its.askers:
                its.work.cancel()
                del self._estimates[question]
        if "trouble" in said:
            raise ExportError(said["trouble"])
        return {**said, "fits": self._fits(said["bytes"])}

    async def _estimated(self, question: str) -> dict[str, Any]:
        try:
            async with asyncio.timeout(ESTIMATE_S), self._one:
                return await self._ask(EXPORT, json.loads(question))
        except TimeoutError:
            return {"trouble": "this PC is too busy to tell how large it would be; ask again later"}

    async def _ask(self, program: str, request: dict[str, Any], making: Making | None = None) -> dict[str, Any]:
        """The last word of the child program; `making`: what it makes and where it tells how far it is."""
        process = await asking(program)
        if making is not None:
            self._child = making.number, process
        try:
            said: dict[str, Any] = {}
            async for said in answers(process, request):
                if making is not None:
                    making.share = said.get("share", making.share)
            return said
        finally:
            self._child = None if making is not None else self._child


def _request(run: Path, key: str, wanted: Wanted) -> dict[str, Any]:
    said = {name: each if name in ("what", "group", "again") else _open(each) for name, each in asdict(wanted).items()}
    return {**said, "run": str(run), "as": key}


def _open(utc_s: float) -> float | None:
    return utc_s if isfinite(utc_s) else None


def formats() -> list[dict[str, Any]]:
    """The formats that there are; `trouble`: why one cannot be written here, or empty."""
    return [
        {
            "key": each.key,
            "label": each.label,
            "suffix": each.suffix,
            "whats": list(each.whats),
            "trouble": _trouble(each.key),
        }
        for each in EXPORTS
    ]


def _trouble(key: str) -> str:
    export = next(each for each in EXPORTS if each.key == key)
    try:
        export_named(key, Wanted(export.whats[0]))
    except ExportError as error:
        return str(error)
    return ""
