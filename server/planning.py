"""Test plans of the rigs and their judgement: which runs belong to one, and what each has to say.

All methods are called on the event loop's thread; what touches the disk runs in another.
"""

import asyncio
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from datetime import UTC, datetime
from math import inf
from pathlib import Path
from threading import Lock
from typing import Any, TypeAlias

from server.alarms.seen import PlanOutcome
from server.keeping_evidence import so_far
from server.live.records import RecordingState
from server.live.view import View
from server.plan_files import PlanFiles
from server.rig import Rig
from server.rigs import Rigs
from server.run_state import State
from server.runs.beside import DIGEST, changed_ns, read_so_far
from server.runs.library import RunSummary
from server.runs.shelf import Shelf, Shelved
from server.test_plan.counting import MANY_RUNS, RUNS_MAX, Ran, counts
from server.test_plan.judge import Judgement, Outcome, judged
from server.test_plan.passed import Passed
from server.test_plan.plan import Plan, PlanText

KEPT_MAX = 32  # records of runs in memory: a record has up to a megabyte on the disk
_BEFORE_S = 60.0  # a run that opened so long before what is seen of it was recorded by a service before this one
_UNCOUNTED_S = 60.0  # the first state of a run is told after up to 12 s
_OPEN = (RecordingState.RECORDING, RecordingState.GAP, RecordingState.FAILED)
_BEFORE = "its part before the last start of the service is read when it is closed"
_NOT_YET = "it is being summed up, and is read when that is done"

Live: TypeAlias = Callable[[RunSummary], list[Ran]]  # the parts of that run, where it is the one that is recorded now


class Planning:
    """Of the rigs of one service."""

    def __init__(self, rigs: Rigs) -> None:
        self._rigs = rigs
        self.files: PlanFiles = rigs.plans
        self._kept: dict[str, tuple[int | None, dict[str, Any]]] = {}
        self._keeping = Lock()
        self._outcomes: dict[str, str] = {}  # by rig, as its alarms were told
        self._last: dict[str, list[Ran]] = {}  # by rig, of the run recorded last: its counts do not fall meanwhile

    async def plan(self, rig: str) -> PlanText | None:
        """The plan of a rig. Raises ConfigError where its file cannot be used."""
        return await asyncio.to_thread(self.files.read, rig)

    async def set(self, rig: Rig, text: str) -> tuple[PlanText, str]:
        """Keep a plan, and end the run that is recorded where it opened before the test begins: else nothing counts as
        long as it goes on. The plan, and the name of a run that was ended or "". Raises ConfigError."""
        now_utc_s = self._rigs.utc_s()
        it = await asyncio.to_thread(self.files.write, rig.name, text, now_utc_s)
        early = it.plan.begins is not None and it.plan.begins <= now_utc_s and _opened_before(rig.view, it.plan)
        return it, rig.end_run() if early else ""

    async def judgement(self, rig: Rig, plan: Plan) -> Judgement:
        """Of all its runs so far. Raises OSError where the runs cannot be read."""
        live, why = _live(rig), uncounted(rig.view, plan, self._rigs.utc_s())
        recorded = self._rigs.recorded
        shelf = None if recorded is None else recorded.shelf
        return await asyncio.to_thread(self._judged, rig.name, plan, shelf, live, why)

    async def tested(self, rig: Rig) -> PlanOutcome | None:
        """How the plan of a rig stands, for its alarms; None: there is none. Raises ConfigError, OSError."""
        text = None if rig.demo else await self.plan(rig.name)
        if text is None:
            return None
        its, recorded = await self.judgement(rig, text.plan), self._rigs.recorded
        name = ", ".join(filter(None, (text.plan.specimen, text.plan.serial)))
        told = PlanOutcome(its.outcome.value, f"{its.reasons[0]} ({name})", its.waits)
        if its.outcome is Outcome.UNDECIDED and its.are_reached:
            told = PlanOutcome("unknown", f"{its.unknown[0]} ({name})", its.waits)
        if recorded is not None and self._outcomes.get(rig.name) != told.outcome:
            with suppress(OSError):  # who keeps it turn after turn says so
                await recorded.evidence.keep()  # first: else a kill takes back what is told
        if its.outcome is Outcome.PASS and its.passed_utc_s is None:
            with suppress(OSError):  # the disk's: it is tried again at the next look
                passed = Passed(self._rigs.utc_s(), frozenset(its.runs))
                await asyncio.to_thread(self.files.keep_passed, rig.name, text.plan, passed)
        self._outcomes[rig.name] = told.outcome
        return told

    async def run(self, name: str) -> Ran | None:
        """What one run has to say, as far as it has come; None: there is no such run. Raises OSError."""
        recorded = self._rigs.recorded
        lives = [_live(rig) for rig in self._rigs]
        return None if recorded is None else await asyncio.to_thread(self._run, recorded.shelf, name, lives)

    def _run(self, shelf: Shelf, name: str, lives: list[Live]) -> Ran | None:
        shelved = shelf.get(name)
        if shelved is None:
            return None
        summary = shelved.summary
        now = [part for live in lives for part in live(summary)]
        if not now:
            return self._read(shelf, shelved)[-1]
        return replace(now[-1], why_not=now[0].why_not)  # of the part before, where there is one

    def _judged(self, rig: str, plan: Plan, shelf: Shelf | None, live: Live, why: str) -> Judgement:
        """In a thread: digests are read from the disk."""
        shelved = [] if shelf is None else [each for each in shelf.runs() if each.summary.is_of(rig)]
        wanted = [each for each in shelved if counts(plan, each.summary.opened_utc_s)]
        runs: list[Ran] = []
        for number, each in enumerate(wanted):  # the newest first
            summary = each.summary
            if number >= RUNS_MAX:
                runs.append(Ran(summary.name, summary.opened_utc_s, why_not=MANY_RUNS))
                continue
            assert shelf is not None
            if now := live(summary):
                self._last[rig] = now
            runs += now or self._read(shelf, each)
        return judged(plan, runs, self.files.passed(rig, plan), why)

    def _read(self, shelf: Shelf, shelved: Shelved) -> list[Ran]:
        """Until it is summed up, what was seen while it was recorded, and that there is more."""
        summary = shelved.summary
        stamp = changed_ns(shelf.folder / summary.name / DIGEST)
        kept = self._kept.get(summary.name)
        if kept is None or kept[0] != stamp or summary.closed_utc_s is None:
            digest = shelf.whole_digest(summary)
            if digest is None or "evidence" not in digest:
                ends, why_not = (summary.name, summary.opened_utc_s, summary.closed_utc_s), self._unread(shelved)
                unread = Ran(*ends, None, why_not or _NOT_YET, waits=not why_not)
                return [*self._seen(shelf.folder / summary.name, summary), unread]
            kept = stamp, {"evidence": digest["evidence"], "missing_s": digest["missing_s"]}
            with self._keeping:  # the page and the alarms ask at the same time, each in a thread
                while len(self._kept) >= KEPT_MAX:
                    self._kept.pop(next(iter(self._kept)))
                self._kept[summary.name] = kept
        its = kept[1]
        return [Ran(summary.name, summary.opened_utc_s, summary.closed_utc_s, its["evidence"], "", its["missing_s"])]

    def _unread(self, shelved: Shelved) -> str:
        """Why a run will not be read, or empty: it will be."""
        if shelved.trouble:
            return f"it cannot be read: {shelved.trouble}"
        recorded = self._rigs.recorded
        failed = "" if recorded is None else recorded.summing_up.failed.get(shelved.summary.name, "")
        return f"it could not be summed up: {failed}" if failed else ""

    def _seen(self, run: Path, summary: RunSummary) -> list[Ran]:
        """What was seen of it while it was recorded: at the last look, or when that was last kept."""
        last = [each for each in self._last.get(summary.rig, ()) if each.name == summary.name and each.evidence]
        it = read_so_far(run)
        kept = [] if it is None else [Ran(summary.name, summary.opened_utc_s, None, it.evidence, "", it.missing_s)]
        return max(last, kept, key=_until_utc_s)


def _until_utc_s(parts: list[Ran]) -> float:
    return max((each.evidence["to_utc_s"] or 0.0 for each in parts if each.evidence), default=-inf)


def _opened_before(view: View, plan: Plan) -> bool:
    """Whether a run is open that does not count."""
    its = view.recorded()
    return its.state in _OPEN and its.since_utc_s is not None and not counts(plan, its.since_utc_s)


def uncounted(view: View, plan: Plan, now_utc_s: float) -> str:
    """Why nothing of a rig counts for a test, since a while or as things stand; empty: it does."""
    sampled_utc_s = view.sample_utc_s
    newest_utc_s = view.connection.since_utc_s if sampled_utc_s is None else sampled_utc_s
    if plan.begins is not None and now_utc_s < plan.begins:
        return f"the test begins at {datetime.fromtimestamp(plan.begins, UTC):%Y-%m-%d %H:%M:%S} UTC"
    if _opened_before(view, plan):
        return "the run that is recorded opened before the test begins; end it, and the next one counts"
    if newest_utc_s is not None and now_utc_s - newest_utc_s > _UNCOUNTED_S:
        return "no samples come from the board"
    state, since_utc_s = view.latest.get("run_state"), view.state_since_utc_s
    if state is None or state.value != State.UNKNOWN or since_utc_s is None or now_utc_s - since_utc_s <= _UNCOUNTED_S:
        return ""
    return f"the run state is not known: {state.reason or 'it fits none'}"


def _live(rig: Rig) -> Live:
    """What the run that is recorded now has to say, taken on the event loop's thread."""
    recording = rig.recording
    name = "" if recording is None else recording.run
    it = so_far(rig) if name else None

    def found(summary: RunSummary) -> list[Ran]:
        if it is None or summary.name != name:
            return []
        begin_s = it.evidence["from_utc_s"]
        parts = [Ran(name, summary.opened_utc_s, None, it.evidence, "", it.missing_s, live=True)]
        if begin_s is not None and begin_s > summary.opened_utc_s + _BEFORE_S:
            parts.insert(0, Ran(name, summary.opened_utc_s, None, None, _BEFORE, waits=True))
        return parts

    return found
