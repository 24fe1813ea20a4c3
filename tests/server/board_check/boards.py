"""A board in virtual time that has everything a check looks at, and the same board with one defect."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from fractions import Fraction
from math import inf

import numpy as np

from firmware_protocol import (
    ClockRequest,
    Count,
    Counters,
    Decoder,
    Identity,
    InputDescription,
    InputKind,
    Message,
    Received,
    Role,
    encode_frame,
)
from server.board_check import CHECKS, CLOCK_EVERY_S, Heard, Phase, Record, State, Voice, script
from server.board_check.record import STREAM
from simulator.board import Board
from simulator.player import Player
from simulator.recording import RecordedChannel, Recording

STEP_S = 0.02
COUNT_EVERY_S = 0.25
LISTEN_S = 0.7  # to an answer: nothing is late here


def whole_board(boot: int) -> Board:
    """Two groups in different words and rates, a slow channel, a pulse input; `Wire` adds a counter."""
    t = np.arange(2000) / 2000.0
    wave = np.sin(2 * np.pi * 50 * t)
    slow = np.asarray(np.arange(10) * 0.1, np.float64)
    channels = [
        RecordedChannel("U", Role.VOLTAGE, "V", -400, 400, 325 * wave, "supply", Fraction(2000)),
        RecordedChannel("I", Role.CURRENT, "A", -5, 5, wave, "line", Fraction(2000)),
        RecordedChannel("V", Role.VOLTAGE, "V", -50, 50, 9 * wave[::4], "U", Fraction(500), bits=12),
        RecordedChannel("T", Role.TEMPERATURE, "degC", 0, 100, 20 + slow, "winding", times_s=slow, interval_max_s=0.2),
    ]
    edges = np.arange(1, 24) / 24.0 + 1e-3 * np.sin(np.arange(23))  # no shaft is even to a tick
    pulse = InputDescription(0, InputKind.PULSE, "shaft", 0, 1)
    states = (np.arange(23) % 2 ^ 1).astype(np.uint8)
    return Board(Player(Recording("all", channels, [pulse], edges, states), loop=True), boot=boot)


def slow_board(boot: int) -> Board:
    """One sample a second, and an uneven channel that comes less often than a check takes."""
    t = np.arange(40.0)
    channels = [
        RecordedChannel("p", Role.OTHER, "bar", -1, 1, np.sin(t), "tank", Fraction(1)),
        RecordedChannel("T", Role.TEMPERATURE, "degC", 0, 100, 20 + t, "winding", times_s=t, interval_max_s=90.0),
    ]
    pulse = InputDescription(0, InputKind.PULSE, "shaft", 0, 1)
    turns, states = np.array([10.0, 30.0]), np.array([1, 0], np.uint8)
    return Board(Player(Recording("slow", channels, [pulse], turns, states), loop=True), boot=boot)


Change = Callable[["Wire", list[Message]], list[Message]]


@dataclass
class Wire:
    """The board's bytes with one defect: `change` is given the messages of one step, and `now_s` since power-on.

    `deaf` says of a request whether the board does not hear it; `spoil` changes a whole frame; `boot` the header.
    """

    change: Change = lambda _, messages: messages
    deaf: Callable[["Wire", bytes], bytes] = lambda _, data: data
    spoil: Callable[["Wire", bytes, Message], bytes] = lambda _, frame, __: frame
    boot: int = 259 & 0xFF
    make: Callable[[int], Board] = whole_board
    gone_s: float = inf  # the port goes away then
    now_s: float = 0.0
    held: list[Message] = field(default_factory=list)
    heard: bytes = b""  # all that the PC said

    def __post_init__(self) -> None:
        self.board = self.make(259)
        self._decoder, self._sequence, self._counted = Decoder(), 0, 0

    def restart(self) -> None:
        """By its watchdog: all numbers begin anew."""
        self.board, self.boot, self._sequence = self.make(260), 260 & 0xFF, 0

    def hear(self, data: bytes) -> bytes:
        self.heard += data
        return self._sent(self.board.receive(self.deaf(self, data)))

    def step(self) -> bytes:
        self.now_s += STEP_S
        return self._sent(self.board.step(STEP_S))

    def _sent(self, data: bytes) -> bytes:
        messages = [_with_a_counter(each.message) for each in self._decoder.feed(data) if isinstance(each, Received)]
        if self.board.streaming and self.now_s >= self._counted * COUNT_EVERY_S:
            self._counted += 1
            messages.append(Counters((Count(1, self._counted, round(max(self.now_s - STEP_S, 0.0) * 1e6)),)))
        wire = b""
        for message in self.change(self, messages):
            wire += self.spoil(self, encode_frame(message, sequence=self._sequence, boot=self.boot), message)
            self._sequence += 1
        return wire


def _with_a_counter(message: Message) -> Message:
    return replace(message, inputs=2) if isinstance(message, Identity) else message


def counter_described(_: Wire, messages: list[Message]) -> list[Message]:
    """Every description ends with the counter's, behind the one input that the board has."""
    out: list[Message] = []
    for message in messages:
        out.append(message)
        if isinstance(message, InputDescription):
            out.append(InputDescription(1, InputKind.COUNTER, "turns", pulses_per_turn=1))
    return out


def talked(
    wire: Wire, seconds: float, clock_ratio: float = 1.0, bytes_per_s: float | None = None, answers: bool = True
) -> Record:
    """The whole script in virtual time; the PC's clock runs `clock_ratio` times as fast as the board's true time."""
    record, decoder = Record(seconds, bytes_per_s, answers=answers), Decoder(from_board=True)
    voice = Voice()
    for step in script(seconds, answers):
        begin_s = wire.now_s
        end_s = begin_s + (seconds if step.phase == STREAM else min(step.listen_s, LISTEN_S))
        phase = Phase(step.phase, begin_s * clock_ratio)
        record.phases.append(phase)
        sent, clock_due_s = wire.hear(step.says(voice)), begin_s
        while wire.now_s < end_s - 1e-9:
            if wire.now_s >= wire.gone_s:
                record.gone = step.phase
                return record
            at_s = wire.now_s * clock_ratio
            if step.clock and wire.now_s >= clock_due_s:
                clock_due_s += CLOCK_EVERY_S
                token = round(at_s * 1e6)
                record.asked_s[token] = at_s
                sent += wire.hear(voice.frame(ClockRequest(token)))
            phase.heard += [Heard(at_s + 1e-4, item) for item in decoder.feed(sent)]
            sent = wire.step()
        phase.heard += [Heard(wire.now_s * clock_ratio, item) for item in decoder.feed(sent)]
    return record


def judged(record: Record) -> dict[str, tuple[State, str]]:
    found = ((check.name, check.judge(record)) for check in CHECKS)
    return {name: (seen.state, seen.what) for name, seen in found}
