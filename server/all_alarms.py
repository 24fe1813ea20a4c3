"""The alarms of all rigs while the service runs: follows each rig, looks twice a second, keeps what stands on the disk.

A rig knows nothing of it: it is followed as those are who read its lines, behind the recorder and the picture.
"""

import asyncio
import logging
from collections.abc import Callable
from dataclasses import asdict
from functools import partial
from pathlib import Path

from server.alarming import Alarming
from server.alarms.engine import Act
from server.alarms.notice import Notice, Told
from server.config import RigSettings
from server.live.records import BoardClock, RecordingState
from server.pipeline import Output
from server.readings import Event
from server.rig import Rig
from server.rigs import Rigs
from server.runs.log.dated import Dated

LOOK_S = 0.5
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
        self.alarming.tick(self.rig.view.time.of(utc_s), failed)

    def leave(self) -> None:
        self.rig.view.followers.discard(self.take)


class AllAlarms:
    """`heard` are told of each change once. Cancel `run` to end. All methods are called on the event loop's thread."""

    def __init__(self, rigs: Rigs) -> None:
        self.heard: set[Callable[[Notice], object]] = set()
        self._rigs = rigs
        self._followed: dict[str, _Followed] = {}

    def of(self, rig: str) -> Alarming | None:
        """None: there is no such rig, or it has come this moment."""
        found = self._followed.get(rig)
        return None if found is None else found.alarming

    def standing(self) -> dict[str, list[dict[str, object]]]:
        """All alarms that are not over, by rig."""
        return {name: followed.alarming.standing() for name, followed in self._followed.items()}

    def troubles(self) -> dict[str, str]:
        """What is wrong with the watching itself, by rig."""
        return {name: its.alarming.trouble for name, its in self._followed.items() if its.alarming.trouble}

    async def act(self, rig: str, act: Act) -> bool:
        """What a person does; on the disk when this returns. KeyError without the rig."""
        alarming = self._followed[rig].alarming
        done = alarming.act(act)
        await asyncio.to_thread(alarming.write)
        return done

    async def run(self) -> None:
        """Until it is cancelled; then what stands is written."""
        try:
            while True:
                try:
                    await self._look()
                except Exception:  # ours, whatever it is: the next look may go well
                    log.exception("A look at the alarms failed")
                await asyncio.sleep(LOOK_S)
        finally:
            for followed in self._followed.values():
                followed.leave()
                followed.alarming.write()

    async def _look(self) -> None:
        there = {rig.name: rig for rig in self._rigs}
        for name in [name for name in self._followed if name not in there]:
            self._end(name)
        for name, rig in there.items():
            followed = self._followed.get(name)
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
            return "" if rig is None else rig.view.recorded().run

        def tell(notice: Notice) -> None:
            rig = self._rigs.get(name)
            errors = list[Exception]()
            for hears in (*(() if rig is None else (partial(_tell_story, rig), partial(_keep, rig))), *self.heard):
                try:
                    hears(notice)
                except Exception as error:  # one that fails keeps no other from hearing
                    errors.append(error)
            if errors:
                raise errors[0]

        file = None if demo else self.folder / f"{name}.json"
        return Alarming(settings, file, self._rigs.utc_s, tell, run)

    def _end(self, name: str) -> None:
        followed = self._followed.pop(name)
        followed.leave()
        if not followed.rig.demo:  # a demo motor that is stopped ends like a film
            followed.alarming.end(f"{name} is not watched any more.")

    @property
    def folder(self) -> Path:
        """Where alarms are kept that stand, a file a rig."""
        return self._rigs.data / "alarms"


def _keep(rig: Rig, notice: Notice) -> None:
    """With the run that is open, where one is."""
    if rig.recording is not None:
        rig.recording.keep(Dated("alarm", notice.at_utc_s, None, asdict(notice)))


def _tell_story(rig: Rig, notice: Notice) -> None:
    """What happened, in the story of the page."""
    done = _STORY.get(notice.kind)
    if done is None:
        return
    rank = notice.rank.value.capitalize()
    detail = notice.note if notice.kind is not Told.RAISED else notice.act
    text = f"{rank} {done}: {notice.why.split(';')[0].rstrip('.')}"
    rig.view.tell(Event(f"alarm_{done}", 0.0, text, detail, decisive=notice.kind is Told.RAISED), notice.at_utc_s)
