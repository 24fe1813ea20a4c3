"""Calibration of boards that are connected: listens to a rig while a person calibrates, keeps and takes back.

All methods are called on the event loop's thread; what touches the disk runs beside it, one at a time.
"""

import asyncio
from collections.abc import Callable
from dataclasses import dataclass
from weakref import WeakKeyDictionary

from server.calibration.correction import Correction
from server.calibration.entry import Entry, What, stated
from server.calibration.found import UnfitError
from server.calibration.gain import Reference
from server.calibration.status import channel_records, entry_record
from server.calibration.stretch import Stretch
from server.calibration.trial import Asked, entry_of, find, found_record, look_record
from server.live.records import BoardClock
from server.live.view import View
from server.pipeline import Description, Output
from server.rig import Rig
from server.rigs import Rigs
from server.samples import Channel

LISTENS_S = 30.0  # after the last look
KEEP_S = 600.0  # a measurement is no longer one of now after that


@dataclass(frozen=True, slots=True)
class Wish:
    """What is asked for, as it came: channels by their index."""

    what: What
    channel: int
    against: int | None = None
    load: str = ""
    reference: float | None = None
    uncertainty: float | None = None
    is_limit: bool = True
    words: str = ""


@dataclass(frozen=True, slots=True)
class _Trial:
    serial: str
    entry: Entry
    corrections: dict[int, Correction]  # that held when it was measured


class _Listener:
    """The newest seconds of all groups of a rig."""

    def __init__(self, view: View, utc_s: Callable[[], float]) -> None:
        self.stretches: dict[int, Stretch] = {}
        self._view, self._utc_s = view, utc_s
        self._until_utc_s = 0.0

    def looked(self) -> None:
        self._until_utc_s = self._utc_s() + LISTENS_S
        self._view.followers.add(self.take)

    def take(self, output: Output, clock: BoardClock) -> None:
        if self._utc_s() > self._until_utc_s:
            self._view.followers.discard(self.take)
            self.stretches.clear()
            return
        for block in output.samples:
            self.stretches.setdefault(block.channels[0].group or 0, Stretch()).take(block)


class Calibrating:
    """Raises UnfitError where something cannot be measured, ConfigError where it cannot be kept; both are sentences."""

    def __init__(self, rigs: Rigs) -> None:
        self._rigs = rigs
        self._listeners = WeakKeyDictionary[Rig, _Listener]()  # a rig that is removed is forgotten with what was heard
        self._trials = WeakKeyDictionary[Rig, _Trial]()

    def record(self, rig: Rig) -> dict[str, object]:
        """How the board of a rig is calibrated; `described`: whether it has said yet what it measures."""
        described, files = rig.description, self._rigs.calibrations
        if described is None:  # every board begins so
            nothing: dict[str, object] = {"serial": "", "file": "", "refusal": "", "age_limit_days": None}
            return {"described": False, **nothing, "channels": []}
        serial = described.identity.serial
        refusal = files.refused.get(serial)
        calibration = files.of(serial) if refusal is None else None
        both = described.channels, described.held_channels
        its = channel_records(calibration, *both, self._rigs.utc_s()) if calibration else []
        goes_on = " What was read of it before goes on holding." if serial in files.texts else ""
        return {
            "described": True,
            "serial": serial,
            "file": str(files.file(serial)),
            "refusal": "" if refusal is None else f"{refusal}{goes_on}",
            "age_limit_days": calibration.age_limit_days if calibration else None,
            "channels": its,
        }

    def look(self, rig: Rig, wish: Wish) -> dict[str, object]:
        """The live reading, and why it is not fit, if so. The first look begins to listen."""
        asked = self._asked(rig, wish)
        stretch = self._stretch(rig, asked.channel)
        refusal = ""
        try:
            if wish.what is not What.GAIN or wish.reference is not None:
                find(asked, stretch)
        except UnfitError as error:
            refusal = str(error)
        return {**look_record(asked, stretch), "unit": asked.channel.unit, "refusal": refusal}

    def measure(self, rig: Rig, wish: Wish) -> dict[str, object]:
        """What a calibration would change; `keep` keeps it. Raises UnfitError."""
        self._trials.pop(rig, None)
        described, asked, pipeline = self._described(rig), self._asked(rig, wish), rig.pipeline
        found = find(asked, self._stretch(rig, asked.channel))
        corrections = dict(pipeline.corrections) if pipeline else {}
        said = {each.index: stated(each) for each in described.channels}
        now = corrections.get(wish.channel, Correction())
        against = "" if wish.against is None or wish.what is not What.ANGLE else said[wish.against].words
        entry = entry_of(asked, found, said[wish.channel], against, now, self._rigs.utc_s())
        self._trials[rig] = _Trial(described.identity.serial, entry, corrections)
        return found_record(found, asked.channel.unit)

    async def keep(self, rig: Rig) -> dict[str, object]:
        """What was measured last holds from now on. Raises UnfitError where there is nothing that still counts."""
        trial = self._trials.pop(rig, None)
        if trial is None or self._rigs.utc_s() - trial.entry.made.timestamp() > KEEP_S:
            raise UnfitError("nothing was measured that could be kept; measure again")
        async with self._rigs.calibrations_turn:  # whoever waited for it sees what was kept or undone meanwhile
            await self._rigs.look_at_calibrations()  # what a person wrote counts, and may be why it cannot be kept
            pipeline = rig.pipeline
            same = self._described(rig).identity.serial == trial.serial
            if not same or pipeline is None or pipeline.corrections != trial.corrections:
                raise UnfitError("board or calibration have changed since it was measured; measure again")
            await asyncio.to_thread(self._rigs.calibrations.keep, trial.serial, trial.entry)
        self._rigs.calibrated(trial.serial)
        return entry_record(trial.entry, True)

    async def undo(self, rig: Rig, channel: int, what: What) -> dict[str, object]:
        """The newest that holds is taken back, and the one before it holds. Raises UnfitError where none holds."""
        described, files = self._described(rig), self._rigs.calibrations
        its = stated(next(each for each in described.channels if each.index == self._channel(rig, channel).index))
        serial = described.identity.serial
        async with self._rigs.calibrations_turn:
            await self._rigs.look_at_calibrations()
            entry = await asyncio.to_thread(files.undo, serial, what, its, self._rigs.utc_s())
        if entry is None:
            raise UnfitError(f"no {what} calibration of {its.words} holds that could be undone")
        self._rigs.calibrated(serial)
        return entry_record(entry, False)

    def _described(self, rig: Rig) -> Description:
        described = rig.description
        if described is None:
            raise UnfitError(f"the board of {rig.name} has not said yet what it measures; connect it first")
        return described

    def _channel(self, rig: Rig, index: int) -> Channel:
        found = next((each for each in rig.view.health.channels if each.index == index), None)
        if found is None or found.group is None:
            there = ", ".join(
                f"{each.index} ({each.name})" for each in rig.view.health.channels if each.group is not None
            )
            raise UnfitError(f"there is no evenly sampled channel {index} on this board; there are {there or 'none'}")
        return found

    def _asked(self, rig: Rig, wish: Wish) -> Asked:
        self._described(rig)
        reference = None
        if wish.reference is not None:
            if wish.uncertainty is None:
                raise UnfitError("the reference's uncertainty is missing: no meter is exact, its data sheet tells")
            reference = Reference(wish.reference, wish.uncertainty, wish.is_limit, wish.words or "a meter")
        against = None if wish.against is None else self._channel(rig, wish.against)
        return Asked(wish.what, self._channel(rig, wish.channel), reference, against, wish.load, wish.words)

    def _stretch(self, rig: Rig, channel: Channel) -> Stretch:
        if rig not in self._listeners:
            self._listeners[rig] = _Listener(rig.view, self._rigs.utc_s)
        self._listeners[rig].looked()
        return self._listeners[rig].stretches.get(channel.group or 0) or Stretch()
