"""One described board since its start: its groups, inputs and uneven channels, and the watch over its motor.

Takes messages in the order of the wire. Numeric work on samples waits until something must see it, so that many blocks
cost little more than one; what is said does not depend on when that happens.
"""

from dataclasses import dataclass, field
from typing import Final

from firmware_protocol import Counters, Edges, Message, SampleBlock, Singles, Status, Word
from firmware_protocol import Samples as Block
from server.config import MotorSettings, RigSettings
from server.connection import Finding
from server.duty import Cycle
from server.readings import DamageReport, Event, Fast, Instant
from server.samples import Channel, EdgeTrain, SlowSample
from server.stream.assembly import Assembler, Window
from server.stream.counter_log import CounterLog
from server.stream.describing import Description
from server.stream.edge_log import EdgeLog
from server.stream.filling import Filling
from server.stream.scaling import WINDOW_S, Corrections, channel_of, groups_of
from server.stream.slow_channels import SlowChannels
from server.stream.words import kept
from server.verdict import Verdict
from server.watch import Said, Watch
from server.wiring.following import Fresh

BEHIND_MAX: Final = 8  # so many messages in a row, all more than BEHIND_S back, come from a new start of the board
BEHIND_S: Final = 1.0  # a frame that was held up on its way comes alone, and is not as old


@dataclass(slots=True)
class Found:
    """What has come to light since it was last emptied, in the order of the wire."""

    instants: list[Instant] = field(default_factory=list)
    fast: list[Fast] = field(default_factory=list)
    events: list[Event] = field(default_factory=list)
    damage: list[DamageReport] = field(default_factory=list)
    samples: list[tuple[Filling, int, int]] = field(default_factory=list)
    slow: list[SlowSample] = field(default_factory=list)
    edges: list[EdgeTrain] = field(default_factory=list)
    findings: tuple[Finding, ...] | None = None
    turned: list[Fresh] = field(default_factory=list)
    verdicts: tuple[Verdict, ...] | None = None
    cycles: list[Cycle] = field(default_factory=list)

    def add(self, said: Said) -> None:
        self.instants.append(said.instant)
        if said.fast is not None:
            self.fast.append(said.fast)
        self.events += said.events
        self.cycles += said.cycles
        self.damage += said.faults
        if said.findings is not None:
            self.findings = said.findings
        if said.turned is not None:
            self.turned.append(said.turned)
        if said.verdicts is not None:
            self.verdicts = said.verdicts


class Board:
    """Raises ImpossibleDescriptionError for a description that no board can mean."""

    def __init__(
        self,
        description: Description,
        motor: MotorSettings,
        settings: RigSettings,
        corrections: Corrections,
        samples_only: bool = False,
    ) -> None:
        self.tick_hz = description.identity.tick_hz
        self.tick: int | None = None  # the newest heard of
        self.behind = 0  # messages in a row whose ticks lie more than BEHIND_S before it
        self._said, self._clock_ppm = description.held_channels, description.identity.clock_tolerance_ppm
        self._groups = groups_of(self._said, self.tick_hz, self._clock_ppm, corrections)
        self._assemblers = {number: Assembler(group) for number, group in self._groups.items()}
        self._edges = EdgeLog(description.inputs, self.tick_hz, description.identity.clock_tolerance_ppm)
        self._counters = CounterLog(description.inputs, self.tick_hz, description.identity.clock_tolerance_ppm)
        self._slow = SlowChannels(description.held_channels, self.tick_hz)
        self._block_tick = -1  # the newest of a block that the edges have not been told
        self._lost = True  # frames were lost, or none came yet: the next tick ends that span
        self._grid_tick: int | None = None  # where the next instant of edges begins, if nothing else makes instants
        self._watch: Watch | None = None
        if not samples_only:
            self.watched(motor, settings)

    def watched(self, motor: MotorSettings, settings: RigSettings, found: Found | None = None) -> None:
        """Watch from now on with these settings; the motor's state begins anew, and what was under way is `found`."""
        if found is not None:
            self.end_cycle(found, "other settings began to hold before it ended")
        edges = self._edges if self._edges.inputs else None
        self._watch = Watch(settings, motor, tuple(self._groups.values()), edges, self._counters)

    @property
    def channels(self) -> tuple[Channel, ...]:
        """All channels as they are read now, in the order of their index."""
        even = {each.index: each for group in self._groups.values() for each in group.channels}
        return tuple(even.get(said.index) or channel_of(said, self.tick_hz) for said in self._said)

    def calibrate(self, corrections: Corrections) -> None:
        """Other corrections hold for windows that begin from now on; those that are open are finished as they began."""
        self._groups = groups_of(self._said, self.tick_hz, self._clock_ppm, corrections)
        for number, assembler in self._assemblers.items():
            assembler.calibrate(self._groups[number])

    @property
    def board_s(self) -> float | None:
        """The newest board time heard of."""
        return None if self.tick is None else self.tick / self.tick_hz

    def lost(self) -> None:
        """Frames were lost here."""
        self._vouch()
        self._edges.lost()
        self._lost = True

    def take(self, message: Message, found: Found) -> None:
        """One message of this board; what it says that cannot be is reported and left out."""
        if isinstance(message, Block):
            self.block(message, found)
        elif isinstance(message, SampleBlock):
            self.block(kept(message), found, message.WORD)
        elif isinstance(message, Edges):
            if self._edges.in_doubt:  # its numbers may take a doubt away, but not from what was due before it came
                self.flush(found)
            self._vouch()
            self._heard(message.ticks[-1])
            self._report(self._edges.take(message), found)
            self._lost = False
        elif isinstance(message, Singles):
            self.flush(found)
            self._singles(message, found)
        elif isinstance(message, Counters):
            self.flush(found)
            self._counts(message, found)
        elif isinstance(message, Status):
            self.flush(found)
            self._status(message, found)

    def flush(self, found: Found) -> None:
        """Do the numeric work that waits."""
        windows: list[Window] = []
        for assembler in self._assemblers.values():
            assembler.flush(found.samples, windows)
        if windows:
            self._say(windows, found)
        fresh_edges = self._edges.fresh()
        if fresh_edges is not None:
            found.edges.append(fresh_edges)

    def end(self, found: Found) -> None:
        """This board started anew or says another thing of itself: finish what is open as it is."""
        self.flush(found)
        windows: list[Window] = []
        for assembler in self._assemblers.values():
            assembler.end(self.tick or 0, windows)
        self._say(windows, found)
        self.end_cycle(found, "the board started anew, or said another thing of itself, before it ended")

    def end_cycle(self, found: Found, why: str) -> None:
        """The cycle under way is told as it is: nothing more will be known of it."""
        cycle = self.cycle_under_way(why)
        if cycle is not None:
            found.cycles.append(cycle)

    def cycle_under_way(self, why: str = "") -> Cycle | None:
        """The cycle that has not ended, as it is known now."""
        return None if self._watch is None else self._watch.cycle_under_way(why)

    def _say(self, windows: list[Window], found: Found) -> None:
        self._vouch()
        if self._watch is None:
            return
        windows.sort(key=lambda window: (window.seen_tick, window.group.index))
        for window in windows:
            found.add(self._watch.window(window))

    def block(self, block: Block, found: Found, word: Word = Word.INT16) -> None:
        """The most frequent message: little more than a place in a list until it is flushed. `word`: as it came."""
        assembler = self._assemblers.get(block.group)
        if assembler is None or block.channels != assembler.channels or word is not assembler.group.word:
            found.damage.append(self._contradiction(block, word, assembler))
            return
        tick = block.tick
        if self.tick is None or tick > self.tick:
            self.tick, self.behind = tick, 0
        else:
            self._heard(tick)
        if self._lost:  # the first tick behind a loss ends its span
            self._edges.heard(tick)
            self._lost = False
        elif tick > self._block_tick:
            self._block_tick = tick
        report = assembler.take(block)
        if report is not None:
            found.damage.append(report)

    def _contradiction(self, block: Block, word: Word, assembler: Assembler | None) -> DamageReport:
        """What a block says that the description does not."""
        expected = "no such group"
        if assembler is not None:
            expected = f"{assembler.channels} of them in words of {assembler.group.word.bits} bits"
        its = f"{block.channels} channels in words of {word.bits} bits"
        text = f"A block of group {block.group} held {its}; the description has {expected}"
        return DamageReport("contradiction", block.tick / self.tick_hz, text, 1)

    def _singles(self, message: Singles, found: Found) -> None:
        for single in message.singles:
            sample, report = self._slow.take(single)
            self._report(report, found)
            if sample is not None:
                self._heard(sample.tick)
                self._edges.heard(sample.tick)
                self._lost = False
                found.slow.append(sample)
                if self._watch is not None:
                    self._watch.slow(sample)
                found.instants.append(self._slow.instant(sample))

    def _counts(self, message: Counters, found: Found) -> None:
        """The tick of a counter is that of its last pulse: an old one says nothing of the board's clock."""
        newest = -1 if self.tick is None else self.tick
        found.damage += self._counters.take(message, newest)
        counted = max(each.tick for each in message.counts)
        if counted > newest:
            self._heard(counted)

    def _status(self, status: Status, found: Found) -> None:
        self._heard(status.tick)
        self._report(self._edges.levels(status), found)
        self._lost = False
        windows: list[Window] = []
        for assembler in self._assemblers.values():
            assembler.settle(status.tick, windows)
        self._say(windows, found)
        if self._watch is not None and not self._assemblers and self._edges.inputs:
            self._edge_instants(self._watch, status.tick, found)

    def _edge_instants(self, watch: Watch, tick: int, found: Found) -> None:
        """A board with inputs alone has a grid of its own, on board time; where nothing came it skips ahead."""
        step = round(WINDOW_S * self.tick_hz)
        whole = tick // step * step
        if self._grid_tick is None:
            self._grid_tick = whole
        if whole > self._grid_tick:
            found.add(watch.edges_only(self._grid_tick, whole))
            self._grid_tick = whole

    def _vouch(self) -> None:
        """Tell the edges what the blocks since the last call vouch for."""
        self._edges.heard(self._block_tick)

    def _heard(self, tick: int) -> None:
        if self.tick is None or tick > self.tick:
            self.tick, self.behind = tick, 0
        elif tick < self.tick - BEHIND_S * self.tick_hz:
            self.behind += 1

    def _report(self, report: DamageReport | None, found: Found) -> None:
        if report is not None:
            found.damage.append(report)
