"""A recorded run played through a fresh pipeline into a view of its own, at a pace, to be looked at as if it were live.

It is never recorded again. It computes in small turns on the event loop, so that the rigs that are watched come first;
files are read in a thread. What it shows is marked as played wherever it stands.
"""

import asyncio
import logging
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any

from server.calibration.chosen import Which
from server.calibration.entry import BoardCalibration
from server.config import ConfigError
from server.live.own_time import OwnTime
from server.live.reached import Reached
from server.live.records import Connection, ConnectionState, Playing, Shown
from server.live.view import View
from server.pipeline import Output, Pipeline
from server.readings import Event
from server.runs.ahead import Ahead
from server.runs.course import Course
from server.runs.jump import BEFORE_S, entries_at
from server.runs.layout import Entry, Kind
from server.runs.library import RunSummary
from server.runs.replay import not_played, recorded
from server.stream.scaling import NAME_MAX

PACE_MIN, PACE_MAX = 0.1, 100.0
NEAR_S = 30.0  # a place so little ahead is played to, as fast as it goes; others are jumped to
GAP_SHOWN_S = 3.0  # of the run's time: what is left of a longer gap is passed over
LATE_S = 0.3  # behind its pace by so much of our time, a play goes on from where it is
TURN_S, REST_S = 0.010, 0.005  # it computes so long, and then lets others
WAIT_S = 0.05

log = logging.getLogger(__name__)


class Play:
    """One run that is played; `view` is what viewers see, another one after each jump. `start` once, `stop` once.

    `to_utc_s`: where it ends; `digest`: the run in short, or None where it was not summed up; `utc_s`: the service's
    clock.
    """

    def __init__(
        self,
        run: Path,
        summary: RunSummary,
        to_utc_s: float,
        digest: dict[str, Any] | None,
        utc_s: Callable[[], float],
    ) -> None:
        self.name, self.serial = summary.name, summary.serial
        self._run, self._rig, self._digest, self._utc_s = run, summary.rig, digest, utc_s
        self._playing = Playing(summary.name, summary.rig, summary.opened_utc_s, max(to_utc_s, summary.opened_utc_s))
        self._wanted_utc_s: float | None = None  # a place that a person asked for
        self._calibrations: Mapping[str, BoardCalibration] | None = None  # in place of those of the run
        self._anew = False  # what was computed until now no longer holds
        self._until_utc_s: float | None = None  # played to as fast as it goes
        self._at_utc_s = summary.opened_utc_s
        self._paused, self._reached = False, Reached()
        self._changed = asyncio.Event()
        self._task: asyncio.Task[None] | None = None
        self._failed = False
        self.view = self._begin(iter(()))

    def start(self) -> None:
        """From its beginning."""
        self._wanted_utc_s = self._playing.from_utc_s
        self._task = asyncio.create_task(self._live())

    async def stop(self) -> None:
        if self._task is not None:
            self._task.cancel()
            await asyncio.gather(self._task, return_exceptions=True)

    @property
    def playing(self) -> Playing:
        """How it goes now."""
        return self._playing

    @property
    def position_utc_s(self) -> float:
        """Where it is in the run."""
        return self.view.time.of(self._utc_s())

    def pause(self, paused: bool) -> None:
        """Stand still, or go on; from its end it goes on at its beginning."""
        if not paused and self._playing.state == "ended":
            self._wanted_utc_s = self._playing.from_utc_s
        self._paused = paused
        self._wake()

    def at_pace(self, pace: float) -> None:
        """So many seconds of the run in one of ours."""
        self._playing = replace(self._playing, pace=min(max(pace, PACE_MIN), PACE_MAX))
        self._wake()

    def go_to(self, utc_s: float) -> None:
        """Another place in the run."""
        self._wanted_utc_s = min(max(utc_s, self._playing.from_utc_s), self._playing.to_utc_s)
        self._wake()

    def calibrate(self, which: Which, instead: Mapping[str, BoardCalibration] | None) -> None:
        """Compute with another calibration, from where it is; `instead`: by serial number, None: that of the run."""
        if (which, instead) == (self._playing.calibration, self._calibrations):
            return
        self._calibrations, self._anew = instead, True
        self._playing = replace(self._playing, calibration=which)
        if self._wanted_utc_s is None:
            sought_utc_s = self._playing.sought_utc_s
            self._wanted_utc_s = self.position_utc_s if sought_utc_s is None else sought_utc_s
        self._wake()

    def _wake(self) -> None:
        self._reached.anew()
        self._keep_time(self.position_utc_s)
        self._changed.set()

    def _begin(self, entries: Iterator[Entry | str]) -> View:
        """Nothing was seen yet: a fresh pipeline and a fresh view for what comes now."""
        self._ahead = Ahead(entries)
        self._course = Course(self._rig, calibrations=self._calibrations)
        self._unread, self._described = list[str](), False
        self.view = View(self.name)
        self.view.connection = Connection(ConnectionState.LIVE)
        now_utc_s = self._utc_s()
        self.view.time = OwnTime(0.0, now_utc_s, self._at_utc_s - now_utc_s)
        self._say(jumps=self._playing.jumps + 1)
        return self.view

    def _say(self, state: str = "", **changed: Any) -> None:
        self._playing = replace(self._playing, state=state or self._playing.state, **changed)
        self.view.playing = self._playing

    def _keep_time(self, at_utc_s: float) -> None:
        """The run's time is this one now, and passes as it should."""
        going = self._playing.state == "playing" and not self._paused
        now_utc_s = self._utc_s()
        pace = self._playing.pace if going else 0.0
        self.view.time = OwnTime(pace, now_utc_s, at_utc_s - now_utc_s, most_utc_s=at_utc_s)
        self._say(reached=self._reached.pace if going else None)

    async def _live(self) -> None:
        """Until it is stopped; what cannot be read ends it with the reason."""
        while True:
            try:
                await self._go()
            except OSError as error:
                where = f"{Path(error.filename).name}: " if error.filename else ""
                self._end(f"the run cannot be read ({where}{error.strerror or error})")
            except Exception as error:  # ours, whatever it is: the rigs must go on
                log.exception("The run %s could not be played", self.name)
                self._end(f"Slipring made a mistake ({type(error).__name__}); its terminal tells more")
            await self._changed.wait()
            self._changed.clear()

    def _end(self, trouble: str = "") -> None:
        self._say("ended", trouble=trouble, sought_utc_s=None)
        self._until_utc_s = None
        self._keep_time(self._at_utc_s)

    async def _go(self) -> None:
        """Play until there is nothing to do: it stands still, or has come to its end."""
        turn_s = asyncio.get_running_loop().time() + TURN_S
        while True:
            if self._wanted_utc_s is not None:
                await self._seek(self._wanted_utc_s)
            if self._playing.state == "ended":
                return
            seeking = self._until_utc_s is not None
            if self._paused and not seeking:
                self._say("paused")
                self._keep_time(self.position_utc_s)
                return
            if self._playing.state == "paused":
                self._say("playing")
                self._keep_time(max(self.position_utc_s, self._at_utc_s))
            entry = await self._ahead.peek()
            if entry is None:
                self._end(not_played(self._unread, self._described))
                return
            if not seeking and await self._too_early(entry):
                turn_s = asyncio.get_running_loop().time() + TURN_S
                continue
            self._perform(self._ahead.take())
            self._arrive()
            if asyncio.get_running_loop().time() > turn_s:
                if self._until_utc_s is not None:
                    self._keep_time(self._at_utc_s)
                await asyncio.sleep(REST_S)
                turn_s = asyncio.get_running_loop().time() + TURN_S

    async def _seek(self, utc_s: float) -> None:
        """Begin at the place that was asked for, or go on until there."""
        self._wanted_utc_s = None
        self._say("seeking", trouble="", sought_utc_s=utc_s)
        near = self._at_utc_s <= utc_s <= self._at_utc_s + NEAR_S and self._course.pipeline is not None
        if self._anew or not near:
            self._anew = False
            jumped, entries = await asyncio.to_thread(self._entries_at, utc_s)
            self._at_utc_s = utc_s
            self._begin(entries)
            if jumped:
                await self._tell_before()
        self._until_utc_s = utc_s

    def _entries_at(self, utc_s: float) -> tuple[bool, Iterator[Entry | str]]:
        """From a little before the place on, or all from the beginning; and whether something is left out so."""
        jumped = None
        if self._digest is not None and utc_s - self._playing.from_utc_s > BEFORE_S:
            jumped = entries_at(self._run, self._digest, utc_s)
        return (False, recorded(self._run)) if jumped is None else (True, jumped)

    async def _tell_before(self) -> None:
        """What had happened before the first entry that is played; the pipeline sees again what comes behind it."""
        first = await self._ahead.peek()
        if self._digest is None or not isinstance(first, Entry):
            return
        before = [each for each in self._digest["events"] if each["utc_s"] < first.utc_s]
        self.view.events.extend(reversed(before[-20:]))

    async def _too_early(self, entry: Entry | str) -> bool:
        """Wait for an entry's time, at most a little; whether it has not come yet."""
        if isinstance(entry, str):
            return False
        now_utc_s, due_utc_s = self.view.time.due(self._utc_s()), max(entry.utc_s, self._at_utc_s)
        self.view.time = replace(self.view.time, most_utc_s=due_utc_s)  # all before it has been computed
        if due_utc_s - self._at_utc_s > GAP_SHOWN_S and now_utc_s - self._at_utc_s > GAP_SHOWN_S:
            self._keep_time(due_utc_s)
            return False
        early_s = (due_utc_s - now_utc_s) / self._playing.pace
        if early_s < -LATE_S:
            self._reached.behind(due_utc_s, self._utc_s())
            self._keep_time(due_utc_s)  # it stands there: more than this PC computes, or a clock that was set
        if early_s <= 0.0:
            return False
        self._reached.in_time(self._utc_s())
        with suppress(TimeoutError):
            async with asyncio.timeout(min(early_s, WAIT_S)):
                await self._changed.wait()
                self._changed.clear()
        return True

    def _arrive(self) -> None:
        """Whether the place that was asked for has been reached."""
        if self._until_utc_s is not None and self._at_utc_s >= self._until_utc_s:
            self._until_utc_s = None
            self._say("paused" if self._paused else "playing", sought_utc_s=None)
            self._keep_time(self._at_utc_s)

    def _perform(self, entry: Entry | str) -> None:
        if isinstance(entry, str):
            self._unread.append(entry)
            self._tell("unreadable", "A part of the run cannot be read", entry)
            return
        self._at_utc_s = max(self._at_utc_s, entry.utc_s) if self._course.pipeline else entry.utc_s
        if entry.kind is Kind.MARK:
            self._tell("mark", entry.text)
        try:
            output = self._course.perform(entry)
        except ConfigError as error:
            self._unread.append(str(error).rstrip("."))
            self._tell("settings", "Settings of the run cannot be used", str(error))
        except Exception:  # ours, as it was when it was recorded: what comes after it is played all the same
            if not self._failed:
                log.exception("Some bytes of %s could not be computed", self.name)
            self._failed = True
        else:
            self._show(entry, output)

    def _show(self, entry: Entry, output: Output | None) -> None:
        """What an entry brought to light."""
        pipeline = self._course.pipeline
        if pipeline is None:
            return
        if output is None or entry.kind in (Kind.BEGIN, Kind.SETTINGS) or output.described is not None:
            self._show_motor(pipeline)
        if bool(pipeline.corrections) != self._playing.calibrated:
            self._say(calibrated=bool(pipeline.corrections))
        for part in () if output is None else output.parts:
            self._described |= part.described is not None
            self.view.take(part, part.clock)

    def _tell(self, kind: str, text: str, detail: str = "") -> None:
        self.view.tell(Event(kind, 0.0, text, detail, decisive=True), self._at_utc_s)

    def _show_motor(self, pipeline: Pipeline) -> None:
        its, motor = pipeline.settings, pipeline.motor
        self.view.speed_unit, self.view.limits, self.view.set_aside = its.speed_unit, its.limits, pipeline.set_aside
        self.view.wires = its.wires
        if motor.type != self.view.motor.type:
            self.view.forget()
        self.view.motor = Shown(motor.name[:NAME_MAX], motor.type, motor.plate, pipeline.motor_source)
