"""When a run opens and closes, and what belongs to it: a state machine of bytes, outputs and what people do. Pure.

It gives steps; whoever drives it performs each on a Course and, where it says so, records it. So the live service makes
the very calls that a replay makes.
"""

import json
from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from firmware_protocol import Decoder, Identity, Received
from server.config import MotorSettings, RigSettings
from server.pipeline import Output
from server.runs.activity import Activity, levels, seen
from server.runs.kept import from_whole_frame, kept_frames
from server.runs.layout import Entry, Kind
from server.runs.marks import CABLE_BACK, CABLE_OUT, STARTED, STOPPED
from server.settings.text import rig_text
from server.stream.describing import Description

HELD_BYTES_MAX = 4 << 20  # before the description: 12 s of the reference board; the oldest go first
HELD_S_MAX = 12.0  # after the cable came back: a board that cannot be asked says who it is every 10 s
SOON_S = 30.0  # after the service began: a board that is heard of by then was there all the time
RING_S = 10.0  # how much before the first sign of life a run begins that opened by itself
RING_BYTES_MAX = 32 << 20  # ten times that of the reference board


@dataclass(frozen=True, slots=True)
class Step:
    """An entry to perform. `recorded`: it belongs to a run. `again`: its bytes were performed before."""

    entry: Entry
    recorded: bool = True
    again: bool = False


class Phase(StrEnum):
    """Where a rig's recording is."""

    WAITING = "waiting"  # for the description
    RECORDING = "recording"
    HOLDING = "holding"  # the cable came back: is this the same board?
    CLOSED = "closed"  # until the motor shows a sign of life


class Life:
    """Of one rig. `continues`: the board's serial number of a run that was left open when the service ended.

    `calibrations`: by serial number, the text of what holds of each board; others may change it. `since_utc_s`: when
    the service began to look for the board, None: just before its first byte.
    """

    def __init__(
        self,
        settings: RigSettings,
        continues: str | None = None,
        calibrations: Mapping[str, str] | None = None,
        since_utc_s: float | None = None,
    ) -> None:
        self.phase = Phase.WAITING
        self._settings = settings
        self._continues = continues
        self._since_utc_s = since_utc_s
        self._calibrations = {} if calibrations is None else calibrations
        self._serial = ""
        self._description: Description | None = None
        self._begun = False  # there is a pipeline
        self._ring: deque[Entry] = deque()  # chunks of this connection that belong to no run yet
        self._ring_bytes = 0
        self._looking = Decoder(from_board=True)  # for the identity of a board that came back
        self._held_since = 0.0
        self._activity: Activity | None = None
        self._resting_since: float | None = None  # board time

    def connected(self, utc_s: float) -> list[Step]:
        """The port is open, perhaps again."""
        if self.phase is Phase.RECORDING:
            self.phase, self._looking, self._held_since = Phase.HOLDING, Decoder(from_board=True), utc_s
        elif self.phase is Phase.WAITING:
            self._begun = False
        self._clear_ring()
        return []

    def disconnected(self, utc_s: float, why: str = "") -> list[Step]:
        """The port is gone; `why`, where it is not lost."""
        steps = self._same_board(utc_s) if self.phase is Phase.HOLDING else []
        if self.phase is Phase.RECORDING:
            steps.append(_mark(why or CABLE_OUT, utc_s))
        return steps

    def chunk(self, data: bytes, utc_s: float) -> list[Step]:
        """Bytes arrived."""
        entry = Entry(Kind.CHUNK, utc_s, data)
        if self.phase is Phase.RECORDING:
            return [Step(entry)]
        self._keep(entry)
        if self.phase is Phase.HOLDING:
            return self._who_is_back(data, utc_s)
        steps = [] if self._begun else self._begin_unknown(utc_s)
        self._begun = True
        return [*steps, Step(entry, recorded=False)]

    def saw(self, output: Output, motor: MotorSettings, utc_s: float) -> list[Step]:
        """What came of a step that was not done `again`."""
        if output.described is not None:
            known, self._description = self._description, output.described
            serial = output.described.identity.serial
            if known is None or _measured(known) != _measured(output.described):
                self._activity = None  # levels and voltage of another board, or of this one before it was changed
            if self.phase is Phase.WAITING:
                return self._first(serial, utc_s)
            if self.phase is Phase.RECORDING and known is not None and serial != self._serial:
                return [*self._close("another board was connected", utc_s), *self._open(serial, "new board", utc_s)]
        if self.phase is Phase.RECORDING and self._rested(output):
            minutes = self._settings.rest_closes_run_s / 60.0
            return self._close(f"the motor was at rest for {minutes:g} min", utc_s)
        if self.phase is Phase.CLOSED and self._description is not None:
            activity = self._activity or levels(self._description, motor.plate)
            self._activity, alive = seen(activity, output)
            if alive:
                return self._open(self._description.identity.serial, "the motor showed a sign of life", utc_s)
        return []

    def change(self, settings: RigSettings, utc_s: float) -> list[Step]:
        """Other settings hold."""
        self._settings = settings
        self._activity = None
        text = rig_text(settings).encode()
        return [Step(Entry(Kind.SETTINGS, utc_s, text), recorded=self._recording)] if self._begun else []

    def calibrate(self, serial: str, utc_s: float) -> list[Step]:
        """What holds of the board of that serial number has changed."""
        if not self._begun or serial not in self._calibrations:
            return []
        return [Step(self._calibration(serial, utc_s), recorded=self._recording and serial == self._serial)]

    def end(self, utc_s: float, reason: str = "ended by a person") -> list[Step]:
        """A person ends the run, or what it was about."""
        steps = self._same_board(utc_s) if self.phase is Phase.HOLDING else []
        return steps + (self._close(reason, utc_s) if self.phase is Phase.RECORDING else [])

    def stop(self, utc_s: float) -> list[Step]:
        """The service ends; the run stays open for its next start."""
        steps = self._same_board(utc_s) if self.phase is Phase.HOLDING else []
        return [*steps, _mark(STOPPED, utc_s)] if self._recording else steps

    @property
    def _recording(self) -> bool:
        return self.phase in (Phase.RECORDING, Phase.HOLDING)

    def _first(self, serial: str, utc_s: float) -> list[Step]:
        """The description is complete: the run opens, and holds everything since the first byte."""
        begin = utc_s if not self._ring else self._ring[0].utc_s
        continues, self._continues = self._continues, None
        if continues is None:
            steps = [_open(serial, "the board was described", begin)]
        elif continues == serial:
            steps = self._goes_on(begin)
        else:
            steps = [Step(Entry(Kind.CLOSE, begin, b"another board was connected"))]
            steps.append(_open(serial, "the board was described", begin))
        self.phase, self._serial, self._resting_since = Phase.RECORDING, serial, None
        steps += self._begin(begin, serial)
        steps += [Step(entry, again=True) for entry in self._ring]
        self._clear_ring()
        return steps

    def _goes_on(self, begin: float) -> list[Step]:
        """A run that was left open: the service is back, and since when its board is."""
        since = self._since_utc_s
        if since is None or begin - since <= SOON_S:
            return [_mark(STARTED, begin)]
        return [_mark(STARTED, since), _mark(CABLE_BACK, begin)]

    def _open(self, serial: str, reason: str, utc_s: float) -> list[Step]:
        """A run in the middle of the stream: a fresh pipeline, the description as it is known, the last seconds."""
        assert self._description is not None
        ring = list(self._ring)
        while ring and not (whole := from_whole_frame(ring[0].payload)):
            ring.pop(0)
        if ring:
            ring[0] = Entry(Kind.CHUNK, ring[0].utc_s, whole)
        begin = ring[0].utc_s if ring else utc_s
        frames = kept_frames(self._description, b"".join(entry.payload for entry in ring))
        self.phase, self._serial, self._resting_since = Phase.RECORDING, serial, None
        self._clear_ring()
        steps = [_open(serial, reason, begin), *self._begin(begin, serial)]
        steps.append(Step(Entry(Kind.KEPT, begin, frames), again=True))
        return steps + [Step(entry, again=True) for entry in ring]

    def _close(self, reason: str, utc_s: float) -> list[Step]:
        self.phase, self._activity = Phase.CLOSED, None
        self._clear_ring()
        return [Step(Entry(Kind.CLOSE, utc_s, reason.encode()))]

    def _who_is_back(self, data: bytes, utc_s: float) -> list[Step]:
        found = (each.message for each in self._looking.feed(data) if isinstance(each, Received))
        who = next((message for message in found if isinstance(message, Identity)), None)
        if who is not None and who.serial == self._serial:
            return self._same_board(utc_s)
        too_long = utc_s - self._held_since > HELD_S_MAX or self._ring_bytes >= HELD_BYTES_MAX
        if who is not None or too_long:  # whoever it is, its samples are not read with another board's description
            reason = b"another board was connected" if who is not None else b"the board did not say who it is"
            steps = [Step(Entry(Kind.CLOSE, utc_s, reason))]
            self.phase, self._begun = Phase.WAITING, True
            held = Entry(Kind.CHUNK, utc_s, b"".join(entry.payload for entry in self._ring))
            self._clear_ring()
            self._keep(held)
            return [*steps, *self._begin_unknown(utc_s), Step(held, recorded=False)]
        return []

    def _same_board(self, utc_s: float) -> list[Step]:
        self.phase = Phase.RECORDING
        steps = [_mark(CABLE_BACK, utc_s), *map(Step, self._ring)]
        self._clear_ring()
        return steps

    def _rested(self, output: Output) -> bool:
        for instant in output.instants:
            for reading in instant.readings:
                if reading.key != "run_state":
                    continue
                if reading.value != "resting":
                    self._resting_since = None
                elif self._resting_since is None or instant.board_s < self._resting_since:
                    self._resting_since = instant.board_s
                elif instant.board_s - self._resting_since >= self._settings.rest_closes_run_s:
                    return True
        return False

    def _keep(self, entry: Entry) -> None:
        self._ring.append(entry)
        self._ring_bytes += len(entry.payload)
        most = RING_BYTES_MAX if self.phase is Phase.CLOSED else HELD_BYTES_MAX
        old = entry.utc_s - RING_S if self.phase is Phase.CLOSED else float("-inf")
        while self._ring and (self._ring_bytes > most or self._ring[0].utc_s < old):
            self._ring_bytes -= len(self._ring.popleft().payload)

    def _clear_ring(self) -> None:
        self._ring.clear()
        self._ring_bytes = 0

    def _begin(self, utc_s: float, serial: str) -> list[Step]:
        """A fresh pipeline for a board that is known, as it is calibrated, and as any is that may take its place."""
        begin, *calibrations = self._begin_unknown(utc_s)
        its = self._calibrations.get(serial, "").encode()
        return [Step(begin.entry), *(Step(each.entry, recorded=each.entry.payload == its) for each in calibrations)]

    def _begin_unknown(self, utc_s: float) -> list[Step]:
        """A fresh pipeline for whoever will say who it is."""
        entries = [Entry(Kind.BEGIN, utc_s, rig_text(self._settings).encode())]
        entries += [self._calibration(serial, utc_s) for serial in list(self._calibrations)]
        return [Step(entry, recorded=False) for entry in entries]

    def _calibration(self, serial: str, utc_s: float) -> Entry:
        return Entry(Kind.CALIBRATION, utc_s, self._calibrations[serial].encode())


def _measured(description: Description) -> tuple[object, ...]:
    """What signs of life depend on; a board that only started anew has the same."""
    return description.identity.serial, description.identity.plate, description.channels


def _open(serial: str, reason: str, utc_s: float) -> Step:
    return Step(Entry(Kind.OPEN, utc_s, json.dumps({"serial": serial, "reason": reason}).encode()))


def _mark(text: str, utc_s: float) -> Step:
    return Step(Entry(Kind.MARK, utc_s, text.encode()))
