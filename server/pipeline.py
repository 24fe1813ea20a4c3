"""The heart: wire bytes in, readings, events and damage out. No I/O, no clock but the arrival times given.

Live service, replay and tests all make the same call, `Pipeline.push`. What it says depends on the bytes alone, not on
how they were cut into calls; only the board's clock against UTC depends on the arrival times.
"""

from collections.abc import Sequence
from dataclasses import replace

from firmware_protocol import (
    ChannelDescription,
    ClockReply,
    Damage,
    DamageKind,
    Decoder,
    Identity,
    InputDescription,
    Received,
    Status,
    understands,
)
from firmware_protocol import Samples as Block
from firmware_protocol.record import record
from server.board import BEHIND_MAX, Board, Found
from server.calibration.correction import Correction, corrections_of
from server.calibration.entry import BoardCalibration
from server.config import Calling, ConfigError, MotorSettings, RigSettings, Space, Wires
from server.connection import Finding
from server.duty import Cycle
from server.motor_check import check_said_motor
from server.readings import DamageReport, Event, Fast, Instant
from server.samples import Channel, EdgeTrain, Samples, SlowSample
from server.settings.text import parse_motor
from server.stream.as_set import as_set
from server.stream.clock import TOLERANCE, Clock, drift_instant, heard, replied
from server.stream.damage import report_of
from server.stream.describing import Describer, Description
from server.stream.edge_log import joined
from server.stream.filling import Stretches
from server.stream.scaling import ImpossibleDescriptionError, judge_groups
from server.verdict import Verdict
from server.wiring.following import Fresh

__all__ = ["Description", "Output", "Pipeline"]


@record
class Output:
    """What one push brought to light, each list in the order of the wire. All board times are those of `clock`.

    `earlier`: the same of starts of the board that ended in this push; `parts` has all, the oldest first.
    """

    instants: tuple[Instant, ...] = ()
    fast: tuple[Fast, ...] = ()
    events: tuple[Event, ...] = ()
    damage: tuple[DamageReport, ...] = ()
    samples: Sequence[Samples] = ()  # what is new in each window, for the picture; scaled when it is looked at
    slow: tuple[SlowSample, ...] = ()
    edges: EdgeTrain | None = None  # new edges of this push
    described: Description | None = None  # set when a description has become complete or has changed
    channels: tuple[Channel, ...] = ()  # all, as they are read from here on: set where they have been calibrated
    status: Status | None = None  # the newest status message of this push
    findings: tuple[Finding, ...] | None = None  # how the board is connected, as told now; None: nothing new
    verdicts: tuple[Verdict, ...] | None = None  # what is concluded of the run now; None: nothing new
    cycles: tuple[Cycle, ...] = ()  # that ended
    turned: tuple[Fresh, ...] = ()  # three Hall inputs and the leads, window by window
    frames: int = 0  # good frames of this push
    clock: Clock = Clock(1.0)
    anew: bool = False  # a start of the board, or another description, begins here
    earlier: tuple["Output", ...] = ()

    @property
    def parts(self) -> tuple["Output", ...]:
        """This output behind what was said before the board started anew, each on a clock of its own."""
        return (*self.earlier, self)


class Pipeline:
    """One rig. `description`, `corrections` (by the index of the channel), `motor` (as it holds, with `motor_source`:
    "settings", "board" or ""), `set_aside` (what was set for channels that this board cannot mean) and `clock` may be
    read between pushes."""

    def __init__(self, settings: RigSettings, samples_only: bool = False, live: bool = False) -> None:
        """`samples_only`: samples, edges and damage are told, nothing is computed. `live`: one too dear is refused."""
        self.settings, self._samples_only, self._live = settings, samples_only, live
        self.description: Description | None = None
        self.motor = settings.motor or MotorSettings()
        self.motor_source = "settings" if settings.motor else ""
        self.set_aside: tuple[str, ...] = ()
        self.clock = Clock(1.0)
        self.corrections: dict[int, Correction] = {}
        self._calibrations: dict[str, tuple[BoardCalibration, float]] = {}  # by the serial number of the board
        self._arrival_s = 0.0  # of the push that is going on
        self._decoder = Decoder(from_board=True)
        self._describer = Describer()
        self._board: Board | None = None
        self._boot: int | None = None  # of the newest frame: the low byte
        self._said_boot: int | None = None  # the whole number, as this start has told it
        self._found = Found()
        self._earlier: tuple[Output, ...] = ()
        self._anew = False
        self._described: Description | None = None
        self._channels: tuple[Channel, ...] = ()
        self._status: Status | None = None

    def push(self, data: bytes, arrival_s: float) -> Output:
        """Take the next bytes, which arrived by `arrival_s` (UTC seconds of the clock that also stamps requests)."""
        frames, self._arrival_s = self._decoder.good_frames, arrival_s
        for item in self._decoder.feed(data):
            if type(item) is not Received:
                self._damaged(item)
                continue
            message = item.message
            if type(message) is Block and item.boot == self._boot:  # nearly all are
                if self._board is not None:
                    self._board.block(message, self._found)
                    if self._board.behind >= BEHIND_MAX:
                        self._started(item.boot)
            else:
                self._received(item, arrival_s)
        if self._board is not None and self._board.tick is not None:
            self.clock = heard(self.clock, self._board.tick, arrival_s)
        return self._output(self._decoder.good_frames - frames)

    def change(self, settings: RigSettings) -> Output:
        """Other settings hold from here on; where only what is shown is another, nothing begins anew."""
        before, self.settings = self.settings, settings
        if _watched(before) == _watched(settings):
            return self._output(0)
        if self._board is not None:
            self._board.flush(self._found)
        self._choose_motor("" if self.description is None else self.description.identity.plate)
        if before.channels != settings.channels and self.description is not None:
            clock = self.clock
            self._begin(self.description)
            self.clock = clock  # the board goes on
        elif self._board is not None and not self._samples_only:
            self._board.watched(self.motor, settings, self._found)
        return self._output(0)

    def calibrate(self, calibration: BoardCalibration, at_utc_s: float) -> Output:
        """This holds for the board of that serial number from here on, as old as it is at `at_utc_s`."""
        self._calibrations[calibration.serial] = calibration, at_utc_s
        said = self.description
        if self._board is not None and said is not None and said.identity.serial == calibration.serial:
            self._board.flush(self._found)
            self._correct(said)
            self._board.calibrate(self.corrections)
            self._channels = self._board.channels
        return self._output(0)

    def _correct(self, description: Description) -> None:
        """Corrections for a board that is described so; an entry that is not used is reported."""
        its = self._calibrations.get(description.identity.serial)
        self.corrections, unused = corrections_of(its[0], description.channels, its[1]) if its else ({}, [])
        self._found.damage += [DamageReport("calibration", None, sentence) for sentence in unused]

    def cycle_under_way(self, why: str = "") -> Cycle | None:
        """The cycle of the motor's duty that has not ended, as it is known now; `why`: why no more will be."""
        return None if self._board is None else self._board.cycle_under_way(why)

    def _output(self, frames: int) -> Output:
        if self._board is not None:
            self._board.flush(self._found)
        earlier, self._earlier = self._earlier, ()
        return self._cut(frames, earlier)

    def _cut(self, frames: int = 0, earlier: tuple[Output, ...] = ()) -> Output:
        """What has been found since the last cut."""
        found, self._found = self._found, Found()
        described, channels, status, anew = self._described, self._channels, self._status, self._anew
        self._described, self._channels, self._status, self._anew = None, (), None, False
        return Output(
            instants=tuple(found.instants),
            fast=tuple(found.fast),
            events=tuple(found.events),
            damage=tuple(found.damage),
            samples=Stretches(found.samples) if found.samples else (),
            slow=tuple(found.slow),
            edges=joined(found.edges),
            described=described,
            channels=channels,
            status=status,
            findings=found.findings,
            verdicts=found.verdicts,
            turned=tuple(found.turned),
            cycles=tuple(found.cycles),
            frames=frames,
            clock=self.clock,
            anew=anew,
            earlier=earlier,
        )

    def _damaged(self, damage: Damage | Received) -> None:
        assert isinstance(damage, Damage)
        self._found.damage.append(report_of(damage, self._board.board_s if self._board else None))
        # Other kinds lose a frame too, but the sequence number of the next good one says whether it was ours.
        if self._board is not None and damage.kind in (DamageKind.LOST, DamageKind.MALFORMED):
            self._board.lost()

    def _received(self, item: Received, arrival_s: float) -> None:
        message = item.message
        if item.boot != self._boot:
            self._started(item.boot)
        if isinstance(message, Identity | ChannelDescription | InputDescription):
            self._say(message)
        elif self._board is not None:
            self._board.take(message, self._found)
            if isinstance(message, Status):
                self._status = message
            elif isinstance(message, ClockReply):
                self.clock = replied(self.clock, message, arrival_s)
                self._found.instants.append(drift_instant(self.clock, message))
            if self._board.behind >= BEHIND_MAX:
                self._started(item.boot)

    def _started(self, boot: int) -> None:
        """The board began its counts anew, or another one is at its place: nothing is read before it is described."""
        first, self._boot, self._said_boot = self._boot is None, boot, None
        if first:
            return
        self._describer.started()
        last_s = self._board.board_s if self._board else None
        self._found.damage.append(DamageReport("reset", last_s, "The board started anew"))
        if last_s is not None:  # else nothing was read of that start, and nobody knows when it was
            self._found.events.append(Event("board_reset", last_s, "Board started anew", "at earliest", decisive=True))
        self._end_board()

    def _end_board(self) -> None:
        """Finish what is open; what comes is not read until a description is complete."""
        self.description = None
        if self._board is None:
            return
        self._board.end(self._found)
        self._board = None
        self._earlier += (self._cut(),)  # its ticks mean nothing on the next clock
        self._anew, self.clock = True, Clock(1.0)

    def _say(self, saying: Identity | ChannelDescription | InputDescription) -> None:
        if isinstance(saying, Identity) and not understands(saying.major, saying.minor):
            text = f"The board speaks version {saying.major}.{saying.minor} of the protocol, which is not understood"
            self._found.damage.append(DamageReport("version", None, text))
            self._describer.started()
            self._end_board()
            return
        if isinstance(saying, Identity):
            if self._said_boot not in (None, saying.boot) and self._boot is not None:
                self._started(self._boot)  # a random number may have the same low byte as the one before
            self._said_boot = saying.boot
        if self.description is not None and not self.description.holds(saying):
            self._end_board()  # a frame of the new description may be lost, and the old one is wrong
        said = self._describer.take(saying)
        if said is not None and said != self.description:
            self._begin(said)

    def _begin(self, description: Description) -> None:
        """Start with a board that is described so, if there can be one."""
        self._end_board()
        self._choose_motor(description.identity.plate)
        channels, complaints = as_set(description.channels, self.settings.channels)
        description = replace(description, set_channels=channels)
        self.set_aside = tuple(f"{what}; {instead}" for _, what, instead in complaints)
        said = (f"What was set for a channel is not used: {text}" for text in self.set_aside)
        self._found.damage += [DamageReport("channels", None, text) for text in said]
        self._correct(description)
        try:
            if self._live:
                judge_groups(description.channels)
            self._board = Board(description, self.motor, self.settings, self.corrections, self._samples_only)
        except ImpossibleDescriptionError as error:
            self._found.damage.append(DamageReport("description", None, f"The description cannot be used: {error}"))
            return
        who, tolerance_ppm = description.identity, description.identity.clock_tolerance_ppm
        tolerance = TOLERANCE if tolerance_ppm is None else tolerance_ppm * 1e-6
        self.clock = Clock(who.tick_hz, tolerance, high_s=self._arrival_s)  # it started before this moment
        self.description = self._described = description
        self._channels = self._board.channels if self.corrections else ()

    def _choose_motor(self, plate: str) -> None:
        """What a person set, or else what the board says; a plate that cannot be read is reported and not used."""
        if self.settings.motor is not None:
            self.motor, self.motor_source = self.settings.motor, "settings"
            return
        self.motor, self.motor_source = MotorSettings(), ""
        if not plate:
            return
        try:
            motor = parse_motor(plate, "the board's plate")
            check_said_motor(motor, "the board's plate")
            self.motor, self.motor_source = motor, "board"
        except ConfigError as error:
            text = f"What the board says of its motor is not used: {error}"
            self._found.damage.append(DamageReport("plate", None, text))


def _watched(settings: RigSettings) -> RigSettings:
    """Without what makes no reading another one."""
    unwatched = replace(settings, name="", port="", baud=0, speed_unit="", limits=(), alarms=())
    return replace(unwatched, calling=Calling(), wires=Wires(), space=Space())
