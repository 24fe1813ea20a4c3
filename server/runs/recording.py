"""The bytes of a rig on their way: recorded first, then through the pipeline. What a rig holds of runs.

One thread calls it. It opens and closes runs by itself as `life.py` says.
"""

import logging
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any

from server.config import RigSettings
from server.pipeline import Output, Pipeline
from server.runs.account_so_far import AccountSoFar, Counted
from server.runs.beside import SoFar, read_so_far
from server.runs.course import Course
from server.runs.holes import HOLE_S, Holes
from server.runs.layout import Entry, Kind, is_time
from server.runs.library import Library
from server.runs.life import Life, Phase, Step
from server.runs.log.dated import Dated
from server.runs.log.live import LiveLog, Logging
from server.runs.recorder import Recorder
from server.runs.segments import last_entry
from server.runs.writer import Writing
from server.test_plan.evidence import Evidence

log = logging.getLogger(__name__)


def _kept_of(run: Path) -> SoFar | None:
    """What a service before this one kept of a run that it left open. What it recorded after that is missing, until
    the run is summed up: it was killed, or the board was away when it ended."""
    it, last = read_so_far(run), None
    with suppress(OSError):  # the recorder says so, and tries again
        last = last_entry(run)
    until_utc_s = None if it is None else it.evidence["to_utc_s"]
    if it is None or until_utc_s is None or last is None or not is_time(last.entry.utc_s):
        return it
    unseen_s = last.entry.utc_s - until_utc_s
    return replace(it, missing_s=it.missing_s + unseen_s) if unseen_s > HOLE_S else it


def log_failure(error: Exception) -> None:
    """For whoever has nobody else to tell."""
    log.error("Some bytes were recorded but could not be computed", exc_info=error)


class Recording:
    """`library` None: nothing is recorded. Each call gives what there is to show now.

    `calibrations`: by the board's serial number, the text of what holds; `calibrate` when one has changed.
    `since_utc_s`: when the service began to look for the board, None: just before its first byte.
    What the pipeline raises on some bytes is told to `failed`, in the same thread: they are recorded all the same, and
    what other bytes of the same call bring is shown.
    """

    def __init__(
        self,
        settings: RigSettings,
        library: Library | None,
        failed: Callable[[Exception], None] = log_failure,
        calibrations: Mapping[str, str] | None = None,
        since_utc_s: float | None = None,
    ) -> None:
        self._failed = failed
        left_open = None if library is None else library.left_open(settings.name)
        self._before = None if library is None or left_open is None else _kept_of(library.folder / left_open.name)
        self._awaited = "" if left_open is None else left_open.name
        self._closed = ""  # the run that closed last, while no other is open,
        self._ended: dict[str, Any] | None = None  # and what it has to say: what comes behind its end is none of it
        self._life = Life(settings, None if left_open is None else left_open.serial, calibrations, since_utc_s)
        self._course, self._evidence, self._so_far = Course(settings.name, live=True), Evidence(), AccountSoFar()
        self._holes = Holes()
        self._recorder = self._log = None
        if library is not None:
            self._log = LiveLog(settings.name)
            continues = None if left_open is None else left_open.name
            self._recorder = Recorder(library, settings.name, continues, opened=self._log.opened)
            self._recorder.start()
            self._log.start()

    @property
    def pipeline(self) -> Pipeline | None:
        """The one that the newest bytes went through; None before the first."""
        return self._course.pipeline

    @property
    def evidence_of(self) -> str:
        """The run of which `evidence` is: the one that is open, or that closed last; empty before the first."""
        return self.run or self._closed

    def evidence(self) -> dict[str, Any]:
        """What that run has to say to a test plan, with what a service before this one kept of it."""
        return self._evidence.record(self._course.pipeline) if self._ended is None else self._ended

    @property
    def silent_s(self) -> float:
        """For how long nothing came in that run without a mark; and all that was missing before this service began."""
        return self._holes.silent_s + (0.0 if self._before is None else self._before.missing_s)

    def counted(self) -> Counted:
        """The account of the run under way."""
        return self._so_far.counted()

    @property
    def phase(self) -> Phase:
        """Where the run is, whatever the disk does."""
        return self._life.phase

    @property
    def writing(self) -> Writing:
        """What the disk does; where it takes no samples, whether it takes readings."""
        its = Writing() if self._recorder is None else self._recorder.writing
        goes_on = its.state == "failed" and bool(self.logging.run) and not self.logging.reason
        return replace(its, reason=f"{its.reason}; readings are kept") if goes_on else its

    @property
    def logging(self) -> Logging:
        """How the log of the run is."""
        return Logging() if self._log is None else self._log.logging

    def keep(self, entry: Dated) -> bool:
        """Keep an alarm or a note with the run that is open; False where none is, or where too much waits for the disk.

        Raises ValueError and TypeError for an entry that cannot be kept.
        """
        return self._log is not None and self.phase in (Phase.RECORDING, Phase.HOLDING) and self._log.keep(entry)

    @property
    def run(self) -> str:
        """The run that is open; empty: there is none, nothing is recorded, or its folder is not made yet."""
        if self._recorder is None or self.phase not in (Phase.RECORDING, Phase.HOLDING):
            return ""
        return self._recorder.run

    @property
    def awaited(self) -> str:
        """The run that was left open, until something of a board comes, with which it goes on or another one opens."""
        return self._awaited

    def chunk(self, data: bytes, utc_s: float) -> list[Output]:
        return self._performed(self._life.chunk(data, utc_s), utc_s)

    def keep_uncomputed(self, data: bytes, utc_s: float) -> None:
        """Bytes that there is no time to compute: the open run has them all the same, where there is one."""
        if self._recorder is not None and self.phase is Phase.RECORDING:
            self._so_far.take(self._recorder.put(Entry(Kind.CHUNK, utc_s, data)))

    def connected(self, utc_s: float) -> list[Output]:
        return self._performed(self._life.connected(utc_s), utc_s)

    def disconnected(self, utc_s: float, why: str = "") -> list[Output]:
        """The port is gone; `why`, where it is not lost."""
        return self._performed(self._life.disconnected(utc_s, why), utc_s)

    def change(self, settings: RigSettings, utc_s: float) -> list[Output]:
        return self._performed(self._life.change(settings, utc_s), utc_s)

    def calibrate(self, serial: str, utc_s: float) -> list[Output]:
        return self._performed(self._life.calibrate(serial, utc_s), utc_s)

    def end_run(self, utc_s: float) -> list[Output]:
        """A person ends the run; the next one opens by itself."""
        return self._performed(self._life.end(utc_s), utc_s)

    def stop(self, utc_s: float, ended: str = "") -> None:
        """The service ends; or the rig, and `ended` says why its run closes.

        Blocks until the last bytes are on the disk, at most a few seconds.
        """
        self._performed(self._life.end(utc_s, ended) if ended else self._life.stop(utc_s), utc_s)
        if self._recorder is not None:
            self._recorder.stop()
        if self._log is not None:
            self._log.stop()

    @property
    def _motor_type(self) -> str:
        return "" if self.pipeline is None else self.pipeline.motor.type

    def _performed(self, steps: list[Step], utc_s: float) -> list[Output]:
        """Record and compute each step, and what follows from it. Recording outranks computing: nothing is raised."""
        shown: list[Output] = []
        for step in steps:
            self._awaited = "" if step.recorded else self._awaited
            if step.entry.kind is Kind.OPEN:
                self._before, self._closed, self._ended = None, "", None
            if step.entry.kind is Kind.CLOSE and self._recorder is not None:
                self._closed, self._ended = self._recorder.run, self.evidence()
            put = self._recorder.put(step.entry) if step.recorded and self._recorder is not None else []
            try:
                if step.recorded:
                    self._holes.take(step.entry)
                self._so_far.take(put)
                output = self._course.perform(step.entry)
                if step.recorded and self._log is not None:
                    self._log.take(step.entry, output, self._motor_type)
                if step.entry.kind is Kind.BEGIN:  # what the pipeline before it ended with was of another run
                    if step.recorded:
                        before = None if self._before is None else self._before.evidence
                        self._evidence, self._holes = Evidence(before), Holes()
                    continue
                for part in output.parts if output is not None and step.recorded else ():
                    self._evidence.take(part)
                if output is None or step.again:
                    continue
                assert self._course.pipeline is not None
                motor = self._course.pipeline.motor
                for part in output.parts:
                    shown.append(part)
                    shown += self._performed(self._life.saw(part, motor, utc_s), utc_s)
            except Exception as error:  # ours, whatever it is: what comes after it is recorded all the same
                self._failed(error)
        return shown
