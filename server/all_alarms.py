"""The alarms of all rigs while the service runs: follows each rig, looks twice a second, keeps what stands on the disk.

A rig knows nothing of it: it is followed as those are who read its lines, behind the recorder and the picture.
"""

import asyncio
import logging
import time
from collections import deque
from collections.abc import Awaitable, Callable, Iterable
from dataclasses import asdict
from functools import partial
from pathlib import Path

from server.alarming import Alarming
from server.alarms.engine import Act
from server.alarms.life import NOT_WATCHED
from server.alarms.notice import Notice, Told
from server.alarms.seen import PlanOutcome
from server.config import ConfigError, RigSettings
from server.live.records import BoardClock, Recording, RecordingState
from server.pipeline import Output
from server.readings import Event
from server.report.holes import AFTER_S
from server.rig import Rig
from server.rigs import Rigs
from server.runs.layout import is_run_name
from server.runs.log.dated import Dated, add_dated

LOOK_S = 0.5
PLAN_LOOK_S = 10.0  # likewise at a test plan: what fails it is told within this,
PLAN_SHARE = 20  # or by so many times as long as it took: the records of many runs are read for it
LATE_MAX = 1000  # that wait for a disk that refuses; the oldest go first
_STORY = {Told.RAISED: "raised", Told.ACKNOWLEDGED: "acknowledged", Told.ENDED: "ended", Told.SHELVED: "shelved"}

log = logging.getLogger(__name__)


class _Followed:
    """One rig that is followed, and what it was told of last."""

    def __init__(self, rig: Rig, alarming: Alarming) -> None:
        self.rig, self.alarming, self.settings = rig, alarming, rig.settings
        rig.view.followers.add(self.take)

    def take(self, output: Output, clock: BoardClock) -> None:
        self.alarming.take(output)

    def look(self, utc_s: float) -> None:
        """Time has passed."""
        if self.rig.settings is not self.settings:
            self.settings = self.rig.settings
            self.alarming.change(self.settings)
        recorded = self.rig.view.recorded()
        failed = recorded.reason if recorded.state is RecordingState.FAILED else ""
        room_s = None if recorded.state in (RecordingState.NONE, RecordingState.CLOSED) else recorded.room_s
        self.alarming.tick(self.rig.view.time.of(utc_s), failed, room_s)

    def leave(self) -> None:
        self.rig.view.followers.discard(self.take)


class AllAlarms:
    """`heard` are told of each change once. Cancel `run` to end. All methods but `as_now` are called on the event
    loop's thread. `tested`: how the test plan of a rig stands, None: it has none; raises ConfigError, OSError."""

    def __init__(self, rigs: Rigs, tested: Callable[[Rig], Awaitable[PlanOutcome | None]] | None = None) -> None:
        self.heard: set[Callable[[Notice], object]] = set()
        self._rigs, self._tested = rigs, tested
        self._followed: dict[str, _Followed] = {}
        self._failed: set[str] = set()  # rigs of which the last look failed
        self._late: deque[tuple[Path, Dated]] = deque(maxlen=LATE_MAX)  # told while no run was open, or refused by it
        self._unjudged: dict[str, str] = {}  # by rig, why its test plan is not judged
        self._has_lost = False  # an alarm that could not be kept, since all others were

    def of(self, rig: str) -> Alarming | None:
        """None: there is no such rig, or it has come this moment."""
        found = self._followed.get(rig)
        return None if found is None else found.alarming

    def standing(self) -> dict[str, list[dict[str, object]]]:
        """All alarms that are not over, by rig."""
        return {name: followed.alarming.standing() for name, followed in self._followed.items()}

    def as_now(self) -> list[Notice]:
        """The same, as notices would tell them now. May be called by any thread."""
        return [notice for its in list(self._followed.values()) for notice in its.alarming.as_now()]

    def troubles(self) -> dict[str, str]:
        """What is wrong with the watching itself, by rig."""
        failed = dict.fromkeys(
            self._failed, "Alarms are not watched, by a mistake of Slipring's; its terminal tells more."
        )
        return {
            **self._unjudged,
            **failed,
            **{name: its.alarming.trouble for name, its in self._followed.items() if its.alarming.trouble},
        }

    async def act(self, rig: str, act: Act) -> bool:
        """What a person does; on the disk when this returns. KeyError without the rig."""
        alarming = self._followed[rig].alarming
        done = alarming.act(act)
        await asyncio.to_thread(alarming.write)
        await asyncio.to_thread(self._keep_late)
        return done

    async def run(self) -> None:
        """Until it is cancelled; then what stands is written."""
        testing = asyncio.create_task(self._test())
        try:
            while True:
                try:
                    await self._look()
                except Exception:  # ours, whatever it is: the next look may go well
                    log.exception("A look at the alarms failed")
                await asyncio.sleep(LOOK_S)
        finally:
            testing.cancel()
            await asyncio.gather(testing, return_exceptions=True)
            for followed in self._followed.values():
                followed.leave()
                followed.alarming.write(last=True)
            self._keep_late()

    async def _test(self) -> None:
        """Test plans, apart: to read their runs may take seconds."""
        failed = set[str]()
        while self._tested is not None:
            began_s = time.monotonic()
            self._unjudged = {name: said for name, said in self._unjudged.items() if name in self._followed}
            for followed in list(self._followed.values()):
                name = followed.rig.name
                try:
                    followed.alarming.test(await self._tested(followed.rig))
                    failed.discard(name)
                    self._unjudged.pop(name, None)
                except (ConfigError, OSError) as error:  # a plan or runs that cannot be read: it stands as it did
                    said = f"Its test is not judged, and stands as it did: {error}"
                    if self._unjudged.get(name) != said:
                        log.warning("%s: %s", name, said)
                    self._unjudged[name] = said
                except Exception:  # ours, whatever it is: the next look may go well
                    if name not in failed:
                        log.exception("A look at the test of %s failed", name)
                    failed.add(name)
            await asyncio.sleep(max(PLAN_LOOK_S, PLAN_SHARE * (time.monotonic() - began_s)))

    async def _look(self) -> None:
        there = {rig.name: rig for rig in self._rigs}
        for name in [name for name in self._followed if name not in there]:
            self._end(name)
        for name, rig in there.items():
            try:
                await self._look_at(rig)
                self._failed.discard(name)
            except Exception:  # ours, whatever it is: the other rigs are looked at, and it is told once
                if name not in self._failed:
                    log.exception("A look at the alarms of %s failed", name)
                self._failed.add(name)
        if self._late:
            await asyncio.to_thread(self._keep_late)

    async def _look_at(self, rig: Rig) -> None:
        followed = self._followed.get(rig.name)
        if followed is None or followed.rig is not rig:
            followed = await self._follow(rig, followed)
        followed.look(self._rigs.utc_s())
        if followed.alarming.unkept:
            await asyncio.to_thread(followed.alarming.write)

    async def _follow(self, rig: Rig, before: _Followed | None) -> _Followed:
        """A software board that was started anew is another rig of the same name: its alarms go on."""
        if before is None:
            alarming = self._made(rig.name, rig.settings, rig.demo)
            await asyncio.to_thread(alarming.load)
        else:
            before.leave()
            alarming = before.alarming
            alarming.change(rig.settings)
        self._followed[rig.name] = _Followed(rig, alarming)
        return self._followed[rig.name]

    def _made(self, name: str, settings: RigSettings, demo: bool) -> Alarming:
        def run() -> str:
            rig = self._rigs.get(name)
            if rig is None:
                return ""
            its = _run_of(rig.view.recorded(), rig.view.time.of(self._rigs.utc_s()))
            return its or ("" if rig.recording is None else rig.recording.awaited)

        def tell(notice: Notice) -> None:
            rig = self._rigs.get(name)
            errors = list[Exception]()
            for hears in (*(() if rig is None else (partial(_tell_story, rig), partial(self._keep, rig))), *self.heard):
                try:
                    hears(notice)
                except Exception as error:  # one that fails keeps no other from hearing
                    errors.append(error)
            if errors:
                raise errors[0]

        def rated_a() -> float | None:
            rig = self._rigs.get(name)
            return None if rig is None else rig.view.motor.plate.current_a

        def motor() -> str:
            rig = self._rigs.get(name)
            return "" if rig is None else rig.view.motor.name

        file = None if demo else self.folder / f"{name}.json"
        return Alarming(settings, file, self._rigs.utc_s, tell, run, rated_a, motor)

    def _end(self, name: str) -> None:
        followed = self._followed.pop(name)
        self._failed.discard(name)
        followed.leave()
        if not followed.rig.demo:  # a demo motor that is stopped ends like a film
            followed.alarming.end(f"{name} {NOT_WATCHED}")

    def _keep(self, rig: Rig, notice: Notice) -> None:
        """With the run that is open, and with the one in which it was raised, which may have closed."""
        entry = Dated("alarm", notice.at_utc_s, None, asdict(notice))
        runs = {notice.run, next((each.run for each in self._told(rig.name) if each.id == notice.id), "")}
        if rig.recording is not None:
            recorded = rig.view.recorded()
            if rig.recording.keep(entry):
                runs.discard(recorded.run)
            elif recorded.state in (RecordingState.RECORDING, RecordingState.GAP) and not recorded.run:
                self._lost(f"the run of {rig.name} that begins")
        for run in filter(is_run_name, runs):
            if len(self._late) == LATE_MAX:
                self._lost(self._late[0][0].name)
            self._late.append((self._rigs.data / "runs" / run, entry))

    def _told(self, rig: str) -> Iterable[Notice]:
        followed = self._followed.get(rig)
        return () if followed is None else followed.alarming.told

    def _lost(self, where: str) -> None:
        if not self._has_lost:
            log.error("Alarms are not kept with %s, as too much waits for the disk; they are shown and sent", where)
        self._has_lost = True

    def _keep_late(self) -> None:
        """Blocks on the disk; what it refuses is tried again at the next look."""
        while self._late:
            run, entry = self._late[0]
            try:
                add_dated(run, entry)
            except FileNotFoundError:  # a person deleted the run
                pass
            except ValueError as error:
                log.error("An alarm is not kept with %s: %s", run.name, error)
            except OSError as error:
                log.debug("An alarm is not kept with %s yet: %s", run.name, error)
                return
            self._late.popleft()
        self._has_lost = False

    @property
    def folder(self) -> Path:
        """Where alarms are kept that stand, a file a rig."""
        return self._rigs.data / "alarms"


def _run_of(recorded: Recording, now_utc_s: float) -> str:
    """The run that is open, or has closed so short a while ago that what is told is of it; else empty."""
    closed_utc_s = recorded.since_utc_s if recorded.state is RecordingState.CLOSED else None
    return "" if closed_utc_s is not None and now_utc_s - closed_utc_s > AFTER_S else recorded.run


def _tell_story(rig: Rig, notice: Notice) -> None:
    """What happened, in the story of the page."""
    done = _STORY.get(notice.kind)
    if done is None:
        return
    rank = notice.rank.value.capitalize()
    detail = notice.note if notice.kind is not Told.RAISED else notice.act
    text = f"{rank} {done}: {notice.why.split(';')[0].rstrip('.')}"
    rig.view.tell(Event(f"alarm_{done}", 0.0, text, detail, decisive=notice.kind is Told.RAISED), notice.at_utc_s)
