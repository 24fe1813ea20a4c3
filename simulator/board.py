"""The software board: signals of a source in, wire bytes out, in its own time. No port, no clock, no thread.

It streams from power-on, after saying who it is. What it sends depends on source, seed and board time
alone, not on how the time was cut into steps: everything happens at instants of the board's own clock.
A board only watches, here too: no control message changes what the source does.
"""

from collections import deque
from dataclasses import replace
from math import ceil, exp, lcm

import numpy as np

from firmware_protocol import (
    PROTOCOL_MAJOR,
    PROTOCOL_MINOR,
    ClockReply,
    ClockRequest,
    Decoder,
    Describe,
    Edges,
    Identity,
    InputKind,
    Message,
    Received,
    Start,
    Status,
    Stop,
)
from firmware_protocol import Source as SourceKind
from simulator.front_end import FrontEnd
from simulator.outbox import Outbox
from simulator.pending import PendingCounts, PendingEdges, PendingGroup, PendingSingles
from simulator.source import BoardSource, Happening, TruthRow, grouped

DESCRIBE_EVERY_S = 10
COUNTS_EVERY_S, COUNTS_AT_LEAST_EVERY_S = 0.05, 0.95  # the protocol: no sooner, and once a second
STATUS_EVERY_S = 0.2  # the protocol asks for one at least every 250 ms
BLOCK_S_MAX = 0.005
CHUNK_S = 0.05  # the source is asked this far ahead: long enough for arrays to pay, short enough to start at once
TRUTH_MAX = 10_000  # newest happenings kept: about a day of stories
_MISS_STEP_S_MAX = 10  # longest common step of all rates: time that is missed passes in whole ones


class Board:
    """One board with one source. Boards of different `seed` differ as boards of one make do."""

    def __init__(self, source: BoardSource, seed: int = 0, *, serial: str = "HB-0001", boot: int = 1) -> None:
        about = source.about
        self.serial, self.tick_hz = serial, about.tick_hz
        self.tick, self.streaming, self.ended = 0, True, False
        self._source, self._about = source, about
        self._elapsed_s = 0.0
        self._missed = 0  # ticks in which the source was not looked at: board ticks minus source ticks
        self._read_to = 0  # board tick up to which the source has been read
        draw = np.random.default_rng((seed, 0))
        self._simulated = about.kind is SourceKind.DEMO  # recorded values have met real sensors already
        tolerance_ppm = (about.clock_tolerance_ppm or 0.0) if self._simulated else 0.0
        self.clock_error_ppm = float(draw.uniform(-tolerance_ppm, tolerance_ppm))
        self._temperature_c, self._supply_v = float(draw.uniform(20, 25)), float(draw.uniform(4.95, 5.05))
        self._tick_s = 1.0 / (self.tick_hz * (1.0 + 1e-6 * self.clock_error_ppm))
        source.power_up(self._tick_s)
        self._groups = self._made_groups(seed)
        lines = sum(1 << each.bit for each in source.inputs if each.kind is not InputKind.COUNTER)
        self._lines = np.uint8(lines)
        self._edges, self._singles = PendingEdges(source.levels & lines), PendingSingles(source.channels)
        every, silent = (round(each * self.tick_hz) for each in (COUNTS_EVERY_S, COUNTS_AT_LEAST_EVERY_S))
        self._counts = PendingCounts(source.inputs, source.levels, every, silent)
        self._miss_step = lcm(1, *(group.ticks_per_sample.numerator for group in self._groups))
        if self._miss_step > _MISS_STEP_S_MAX * self.tick_hz:
            raise ValueError(
                f"the sample rates have no short common step in ticks of 1/{self.tick_hz} s: choose another tick"
            )
        self._outbox, self._requests = Outbox(boot), Decoder()
        self._describe_tick = self._status_tick = 0
        self._dropped_blocks = self._lost_edges = 0
        self._truth: deque[Happening] = deque(maxlen=TRUTH_MAX)
        self._truth_rows: list[TruthRow] = []

    def _made_groups(self, seed: int) -> list[PendingGroup]:
        totals, made = self._source.sample_sets, []
        for number, channels in enumerate(grouped(self._source.channels)):
            sample_s = float(channels[0].ticks_per_sample or 0) * self._tick_s
            draw = np.random.default_rng((seed, 1 + number)) if self._simulated else None
            total = None if totals is None else totals[number]
            made.append(PendingGroup(channels, FrontEnd(channels, sample_s, draw), BLOCK_S_MAX * self.tick_hz, total))
        return made

    @property
    def truth(self) -> tuple[Happening, ...]:
        """What the stories have done until now, newest 10,000; empty for a player."""
        return tuple(happening for happening in self._truth if happening.board_s * self.tick_hz <= self.tick)

    def take_truth(self) -> list[TruthRow]:
        """The ground truth up to now that was not taken before, in order of time; for a source that tells it."""
        rows = sorted(self._truth_rows, key=lambda row: row.board_s)
        due = [row for row in rows if row.board_s * self.tick_hz <= self.tick]
        self._truth_rows = rows[len(due) :]
        return due

    @property
    def dropped_blocks(self) -> int:
        return self._dropped_blocks

    def step(self, seconds: float, room: int | None = None) -> bytes:
        """Let `seconds` of board time pass; returns what the board sent in them.

        At most `room` bytes leave: blocks and edges beyond that are dropped and counted in the status.
        """
        self._elapsed_s += seconds
        now = round(self._elapsed_s * self.tick_hz)
        self._outbox.open(room)
        while not self.ended and (due := self._next_due()) <= now:
            self._at(due)
        self.tick = now
        return self._outbox.take()

    def miss(self, seconds: float) -> float:
        """Let time pass unwatched: the source stands still, and the blocks count as dropped.

        Returns how long it was: at least `seconds`, in whole samples of all channels.
        """
        ticks = ceil(seconds * self.tick_hz / self._miss_step) * self._miss_step
        self._elapsed_s += ticks / self.tick_hz
        self._missed += ticks
        self._read_to += ticks
        self._dropped_blocks += sum(group.shift(ticks) for group in self._groups)
        if self._source.inputs:  # nobody saw what they did: one at least may have changed
            self._lost_edges += 1
        self._edges.shift(ticks)
        self._singles.shift(ticks)
        self._counts.shift(ticks)
        now = round(self._elapsed_s * self.tick_hz)
        self._status_tick, self._describe_tick = max(self._status_tick, now), max(self._describe_tick, now)
        return ticks / self.tick_hz

    def receive(self, data: bytes, room: int | None = None) -> bytes:
        """Take control bytes in any cut; returns the answers. What cannot be read is passed over."""
        self._outbox.open(room)
        for found in self._requests.feed(data):
            if isinstance(found, Received):
                self._answer(found.message)
        return self._outbox.take()

    def _answer(self, request: Message) -> None:
        if isinstance(request, Describe):
            if request.major == PROTOCOL_MAJOR:
                self._describe()
            else:  # the two version bytes are all that the other side can be sure to read
                self._outbox.put(self._identity())
        elif isinstance(request, Start | Stop):
            self._send_waiting(self.tick)
            self.streaming = isinstance(request, Start)
            self._send_status(self.tick)
        elif isinstance(request, ClockRequest):
            self._outbox.put(ClockReply(request.token, self.tick, self.tick))

    def _next_due(self) -> int:
        """The next instant at which something is to be sent."""
        counts = self._counts.next_tick
        dues = [self._status_tick, self._describe_tick, *([] if counts is None else [counts])]
        blocks = [due for group in self._groups if (due := group.due_tick) is not None]
        end = self._source.end_tick
        due = min(dues + blocks + ([] if end is None else [end + self._missed]))
        self._read(due)
        if blocks and any(group.brief for group in self._groups):
            return due  # edges and singles go with the blocks
        grid = round(BLOCK_S_MAX * self.tick_hz)
        waiting = [tick for tick in (self._edges.next_tick, self._singles.next_tick) if tick is not None]
        return min([due, *(-(-tick // grid) * grid for tick in waiting)])

    def _read(self, tick: int) -> None:
        """Read the source until everything up to and including `tick` is known."""
        chunk = round((CHUNK_S if self._groups else STATUS_EVERY_S) * self.tick_hz)
        while self._read_to <= tick:
            first = self._read_to - self._missed
            stretch = self._source.advance(first, first + chunk)
            self._read_to += chunk
            for group, values in zip(self._groups, stretch.groups, strict=True):
                group.add(values)
            self._edges.add(stretch.edge_ticks, stretch.edge_states & self._lines, self._missed)
            self._counts.add(stretch.edge_ticks, stretch.edge_states, self._missed)
            self._singles.add(stretch.slow, self._missed)
            late_s = self._missed / self.tick_hz
            self._truth.extend(replace(one, board_s=one.board_s + late_s) for one in stretch.happenings)
            self._truth_rows += [replace(row, board_s=row.board_s + late_s) for row in stretch.truth]

    def _at(self, due: int) -> None:
        """Send what is due at this tick; edges and singles first, for a block or status vouches for all before it."""
        if due >= self._describe_tick:
            later = DESCRIBE_EVERY_S if self._describe() else STATUS_EVERY_S
            self._describe_tick = due + round(later * self.tick_hz)
        self._send_waiting(due)
        end = self._source.end_tick
        self.ended = end is not None and due >= end + self._missed
        for group in self._groups:
            while (block_due := group.due_tick) is not None and (block_due <= due or self.ended):
                block = group.take()
                if self.streaming:
                    self._dropped_blocks += len(self._outbox.put_data((block,)))
        if due >= self._status_tick or self.ended:
            self._send_status(due)
            self._status_tick = due + round(STATUS_EVERY_S * self.tick_hz)

    def _send_waiting(self, tick: int) -> None:
        edges, counts, singles = self._edges.take(tick), self._counts.take(tick), self._singles.take(tick)
        if not self.streaming:
            return
        self._lost_edges += sum(len(lost.ticks) for lost in self._outbox.put_data(edges) if isinstance(lost, Edges))
        self._outbox.put_data(counts)  # one that finds no room is in the next
        self._dropped_blocks += len(self._outbox.put_data(singles))

    def _send_status(self, tick: int) -> None:
        temperature_c = supply_v = None
        if self._simulated:  # the case warms up by nine degrees, a quarter of an hour to two thirds of it
            temperature_c = self._temperature_c + 9.0 * (1.0 - exp(-tick / self.tick_hz / 900.0))
            supply_v = self._supply_v
        self._outbox.put(
            Status(
                tick,
                self.streaming,
                self._edges.level,
                dropped_blocks=self._dropped_blocks,
                lost_edges=self._lost_edges,
                temperature_c=temperature_c,
                supply_v=supply_v,
            )
        )

    def _identity(self) -> Identity:
        about, source = self._about, self._source
        return Identity(
            PROTOCOL_MAJOR,
            PROTOCOL_MINOR,
            self._outbox.boot,
            self.tick_hz,
            len(source.channels),
            len(source.inputs),
            serial=self.serial,
            model=about.model,
            firmware="slipring simulator",
            source=about.kind,
            clock_tolerance_ppm=about.clock_tolerance_ppm,
            plate=about.plate,
        )

    def _describe(self) -> bool:
        return self._outbox.put(self._identity(), *self._source.channels, *self._source.inputs)
