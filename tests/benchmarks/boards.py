"""Goals 8a and 8b: wire bytes to readings, one board and a hundred, against bare transforms of as many.

Once as `Pipeline.push` does it, with all that it says besides (fresh samples, rows, run state, events, the board's
clock); once decoder, windows and readings alone, which is what the goal counts.
"""

from collections.abc import Iterator
from fractions import Fraction

import numpy as np

from firmware_protocol import (
    PROTOCOL_MAJOR,
    PROTOCOL_MINOR,
    WORD_CODING,
    ChannelDescription,
    Decoder,
    Identity,
    Message,
    Received,
    Samples,
    Status,
    encode_frame,
)
from server.config import Plate, RigSettings
from server.motors import MotorType, motor_type
from server.pipeline import Pipeline
from server.quantities import window_readings
from server.stream.assembly import Assembler, Window
from server.stream.describing import Describer, Description
from server.stream.scaling import WINDOW_S, groups_of
from tests.benchmarks.pairs import Row, cpu_ratio
from tests.benchmarks.window import reference_window

_TICK_HZ, _TICKS = 1_000_000, 50
_BLOCK = 32  # sample sets in a frame: 625 frames a second
_CHUNK = 4096  # bytes: what a tty gives at a time, 12 ms of this board
WINDOWS = 25  # of the stream: five seconds


def _messages(windows: int, stated: bool) -> Iterator[Message]:
    """The reference board: 8 channels at 20 kS/s; `stated`: it says what its channels may be off by."""
    window = reference_window()
    count = len(window.channels)
    yield Identity(PROTOCOL_MAJOR, PROTOCOL_MINOR, 1, _TICK_HZ, count, 0, serial="R-1")
    for each in window.channels:
        step = each.high / 32_000
        yield ChannelDescription(
            each.index,
            each.role,
            each.name,
            each.place,
            each.unit,
            step,
            0.0,
            -32_000,
            32_000,
            group=0,
            ticks_per_sample=Fraction(_TICKS),
            noise_codes_rms=1.5,
            delay_limit_ns=1000 if stated else None,
            gain_limit=0.001 if stated else None,
            offset_limit_codes=2.0 if stated else None,
        )
    steps = np.array([[each.high / 32_000] for each in window.channels])
    codes = np.tile(np.rint(window.values / steps).astype("<i2"), windows)
    words = (codes.T.copy().view("<u2") ^ WORD_CODING).tobytes()
    size = 2 * count * _BLOCK
    for block in range(len(words) // size):
        first = block * _BLOCK
        yield Samples(0, count, first, first * _TICKS, words[block * size : (block + 1) * size])
        if block % 125 == 124:
            yield Status((first + _BLOCK) * _TICKS + 1, True, 0)


def reference_wire(windows: int, stated: bool = False) -> bytes:
    """Description and so many windows of 200 ms; the status behind the last one lets it be told."""
    return b"".join(encode_frame(each, sequence=k, boot=1) for k, each in enumerate(_messages(windows, stated)))


class Alone:
    """Decoder, windows and readings of one board, and nothing else."""

    motor: MotorType | None = None

    def __init__(self) -> None:
        self._decoder, self._describer = Decoder(), Describer()
        self._assembler: Assembler | None = None

    def take(self, data: bytes, _arrival_s: float) -> int:
        """How many windows were read by these bytes."""
        windows: list[Window] = []
        for each in self._decoder.feed(data):
            assert isinstance(each, Received)
            message = each.message
            if isinstance(message, Samples) and self._assembler is not None:
                self._assembler.take(message)
            elif isinstance(message, Status) and self._assembler is not None:
                self._assembler.flush([], windows)
                self._assembler.settle(message.tick, windows)
            elif isinstance(message, Identity | ChannelDescription):
                self._describe(self._describer.take(message))
        if self._assembler is not None:
            self._assembler.flush([], windows)
        for window in windows:
            window_readings(window.samples, self.motor, Plate(pole_pairs=2))
        return len(windows)

    def _describe(self, said: Description | None) -> None:
        if said is not None:
            self._assembler = Assembler(groups_of(said.channels, said.identity.tick_hz)[0])


class Everything(Alone):
    """The same with the motor's own readings."""

    motor = motor_type("three_phase_induction")


class Pushed:
    """All of one board, as the service does it."""

    def __init__(self) -> None:
        self._pipeline = Pipeline(RigSettings("bench"))

    def take(self, data: bytes, arrival_s: float) -> int:
        """How many instants came of these bytes."""
        return len(self._pipeline.push(data, arrival_s).instants)


class Boards:
    """So many boards at once. `step` gives the next window to each of them; at the end of the stream they begin anew,
    so that descriptions are a part of the cost, once in WINDOWS."""

    def __init__(self, boards: int, wire: bytes, kind: type[Alone | Pushed] = Pushed) -> None:
        self._count, self._kind = boards, kind
        self._pieces = [wire[at : at + _CHUNK] for at in range(0, len(wire), _CHUNK)]
        self._every_s = WINDOWS * WINDOW_S / len(self._pieces)
        self._boards: list[Alone | Pushed] = []
        self._window = WINDOWS
        self.instants = 0

    def step(self) -> None:
        if self._window == WINDOWS:
            self._window, self._boards = 0, [self._kind() for _ in range(self._count)]
        begin, self._window = self._window * len(self._pieces) // WINDOWS, self._window + 1
        for at in range(begin, self._window * len(self._pieces) // WINDOWS):
            arrival_s = at * self._every_s  # as it would come: time goes on
            for board in self._boards:
                self.instants += board.take(self._pieces[at], arrival_s)


def measure(pairs: int) -> list[Row]:
    """Six rows; bytes are delivered in pieces of 4 kB, to each board in turn."""
    wire, sure, values = reference_wire(WINDOWS), reference_wire(WINDOWS, stated=True), reference_window().values
    kinds = (
        ("8a", "all of a push", Pushed, wire, 15.0),
        ("8a", "decode and common readings alone", Alone, wire, 15.0),
        ("8b", "decode and all readings with their uncertainty", Everything, sure, 30.0),
    )
    rows = []
    for boards in (1, 100):

        def transforms(count: int = boards) -> None:
            for _ in range(count):
                np.fft.rfft(values)

        for goal, what, kind, its, at_most in kinds:
            ratio = cpu_ratio(Boards(boards, its, kind).step, transforms, pairs)
            what = f"{what}, {boards} board{'s' if boards > 1 else ''}"
            rows.append(Row(goal, what, ratio, at_most, "bare rfft of (8, 4000) for each window"))
    return rows
