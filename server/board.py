"""One described board since its start: its groups, inputs and uneven channels, and the watch over its motor.

Takes messages in the order of the wire. Numeric work on samples waits until something must see it, so that many blocks
cost little more than one; what is said does not depend on when that happens.
"""

from dataclasses import dataclass, field

from firmware_protocol import Edges, Message, Singles, Status
from firmware_protocol import Samples as Block
from server.assembly import Assembler, Window
from server.config import MotorSettings, RigSettings
from server.describing import Description
from server.edge_log import EdgeLog
from server.readings import DamageReport, Event, Fast, Instant
from server.samples import EdgeTrain, Samples, SlowSample
from server.scaling import WINDOW_S, groups_of
from server.slow_channels import SlowChannels
from server.watch import Said, Watch


@dataclass(slots=True)
class Found:
    """What has come to light since it was last emptied, in the order of the wire."""

    instants: list[Instant] = field(default_factory=list)
    fast: list[Fast] = field(default_factory=list)
    events: list[Event] = field(default_factory=list)
    damage: list[DamageReport] = field(default_factory=list)
    samples: list[Samples] = field(default_factory=list)
    slow: list[SlowSample] = field(default_factory=list)
    edges: list[EdgeTrain] = field(default_factory=list)

    def add(self, said: Said) -> None:
        self.instants.append(said.instant)
        if said.fast is not None:
            self.fast.append(said.fast)
        self.events += said.events
        self.damage += said.faults


class Board:
    """Raises ImpossibleDescriptionError for a description that no board can mean."""

    def __init__(self, description: Description, motor: MotorSettings, settings: RigSettings) -> None:
        self.tick_hz = description.identity.tick_hz
        self.tick: int | None = None  # the newest heard of
        self._groups = groups_of(description.channels, self.tick_hz)
        self._assemblers = {number: Assembler(group) for number, group in self._groups.items()}
        self._edges = EdgeLog(description.inputs, self.tick_hz)
        self._slow = SlowChannels(description.channels, self.tick_hz)
        self._order = 0
        self._grid_tick: int | None = None  # where the next instant of edges begins, if nothing else makes instants
        self.watched(motor, settings)

    def watched(self, motor: MotorSettings, settings: RigSettings) -> None:
        """Watch from now on with these settings; the motor's state begins anew."""
        edges = self._edges if self._edges.inputs else None
        self._watch = Watch(settings, motor, tuple(self._groups.values()), edges)

    @property
    def board_s(self) -> float | None:
        """The newest board time heard of."""
        return None if self.tick is None else self.tick / self.tick_hz

    def lost(self) -> None:
        """Frames were lost here."""
        self._edges.lost()

    def take(self, message: Message, found: Found) -> None:
        """One message of this board; what it says that cannot be is reported and left out."""
        self._order += 1
        if isinstance(message, Block):
            self._block(message, found)
        elif isinstance(message, Edges):
            self._heard(message.ticks[-1])
            self._report(self._edges.take(message), found)
        elif isinstance(message, Singles):
            self.flush(found)
            self._singles(message, found)
        elif isinstance(message, Status):
            self.flush(found)
            self._status(message, found)

    def flush(self, found: Found) -> None:
        """Do the numeric work that waits."""
        windows: list[Window] = []
        for assembler in self._assemblers.values():
            fresh, done = assembler.flush()
            found.samples += fresh
            windows += done
        self._say(windows, found)
        fresh_edges = self._edges.fresh()
        if fresh_edges is not None:
            found.edges.append(fresh_edges)

    def end(self, found: Found) -> None:
        """This board started anew or says another thing of itself: finish what is open as it is."""
        self.flush(found)
        tick = self.tick or 0
        self._say([each for one in self._assemblers.values() for each in one.end(tick, self._order)], found)

    def _say(self, windows: list[Window], found: Found) -> None:
        windows.sort(key=lambda window: (window.order, window.group.index))
        for window in windows:
            found.add(self._watch.window(window))

    def _block(self, block: Block, found: Found) -> None:
        assembler = self._assemblers.get(block.group)
        if assembler is None or block.channels != len(assembler.group.channels):
            expected = "no such group" if assembler is None else f"{len(assembler.group.channels)} of them"
            text = f"A block of group {block.group} held {block.channels} channels; the description has {expected}"
            self._report(DamageReport("contradiction", block.tick / self.tick_hz, text, 1), found)
            return
        self._heard(block.tick)
        self._edges.heard(block.tick)
        self._report(assembler.take(block, self._order), found)

    def _singles(self, message: Singles, found: Found) -> None:
        for single in message.singles:
            sample, report = self._slow.take(single)
            self._report(report, found)
            if sample is not None:
                self._heard(sample.tick)
                self._edges.heard(sample.tick)
                found.slow.append(sample)
                found.instants.append(self._slow.instant(sample))

    def _status(self, status: Status, found: Found) -> None:
        self._heard(status.tick)
        self._edges.levels(status)
        windows = [each for one in self._assemblers.values() for each in one.settle(status.tick, self._order)]
        self._say(windows, found)
        if not self._assemblers and self._edges.inputs:
            self._edge_instants(status.tick, found)

    def _edge_instants(self, tick: int, found: Found) -> None:
        """A board with inputs alone has a grid of its own, on board time; where nothing came it skips ahead."""
        step = round(WINDOW_S * self.tick_hz)
        whole = tick // step * step
        if self._grid_tick is None:
            self._grid_tick = whole
        if whole > self._grid_tick:
            found.add(self._watch.edges_only(self._grid_tick, whole))
            self._grid_tick = whole

    def _heard(self, tick: int) -> None:
        self.tick = tick if self.tick is None else max(self.tick, tick)

    def _report(self, report: DamageReport | None, found: Found) -> None:
        if report is not None:
            found.damage.append(report)
