"""A bench for the emulated board: what is fed, the reader of its line, and the credit between them."""

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import TypeVar

import numpy as np
import serial
from numpy.typing import NDArray

from firmware_protocol import ClockReply, ClockRequest, Damage, Decoder, Message, Received, Samples, Start, encode_frame
from tests.firmware_protocol.firmware.emulator import PATIENCE_S, Emulator
from tests.firmware_protocol.firmware.window import CHANNELS, TICKS_PER_SAMPLE
from tests.firmware_protocol.plain import codes_of

SETS_IN_BLOCK = 60
READ_BYTES = 1 << 16  # more than comes in the time that a read waits
CREDIT = 8 * SETS_IN_BLOCK  # fed and not yet read: what the board's own boxes hold without losing any
READ_S = 0.004
_M = TypeVar("_M")


@dataclass
class Fed:
    """What goes in: codes (n, 8), edges by tick since set 0, which sets the converter misses."""

    codes: NDArray[np.int16]
    edge_ticks: NDArray[np.int64] = field(default_factory=lambda: np.zeros(0, np.int64))
    levels: NDArray[np.uint8] = field(default_factory=lambda: np.zeros(0, np.uint8))
    missed: NDArray[np.bool_] | None = None

    def give(self, emulator: Emulator, upto: int) -> None:
        """The next sets up to number `upto`, and the edges that come before them."""
        window, first = emulator.window, emulator.window.fed
        here = slice(*np.searchsorted(self.edge_ticks, np.array([first - 1, upto - 1]) * TICKS_PER_SAMPLE + 1))
        window.add_edges(self.edge_ticks[here], self.levels[here])
        window.feed(self.codes[first:upto], None if self.missed is None else self.missed[first:upto])


class Reader:
    """One who reads the line: bytes, and what they mean."""

    def __init__(self, line: serial.Serial) -> None:
        self._line, self._decoder, self._sequence = line, Decoder(from_board=True), 0
        self.bytes = b""
        self.found: list[Received | Damage] = []
        self.sets = 0  # number of the last set read, and one

    def say(self, *messages: Message) -> None:
        for message in messages:
            self._line.write(encode_frame(message, sequence=self._sequence))
            self._sequence += 1

    def say_bytes(self, data: bytes) -> None:
        self._line.write(data)

    def read(self) -> None:
        """What has come; waits a moment for something."""
        data = self._line.read(READ_BYTES)
        self.bytes += data
        for one in self._decoder.feed(data):
            self.found.append(one)
            if isinstance(one, Received) and isinstance(one.message, Samples):
                self.sets = one.message.first_sample + one.message.count

    def all(self, kind: type[_M]) -> list[_M]:
        return [one.message for one in self.found if isinstance(one, Received) and isinstance(one.message, kind)]

    def last(self, kind: type[_M]) -> _M:
        return self.all(kind)[-1]

    @property
    def damage(self) -> list[Damage]:
        return [one for one in self.found if isinstance(one, Damage)]

    def codes(self) -> dict[int, list[int]]:
        """Number of a set -> its codes."""
        return {
            block.first_sample + k: codes
            for block in self.all(Samples)
            for k, codes in enumerate(codes_of(block.words, block.channels))
        }


@contextmanager
def reader(emulator: Emulator) -> Iterator[Reader]:
    with serial.serial_for_url(emulator.url, timeout=READ_S) as line:
        yield Reader(line)


def begin(emulator: Emulator, line: Reader) -> None:
    """Let it run and start its samples; returns when it has heard that. A line may be deaf for a second at first."""
    emulator.go()
    line.say(Start(), ClockRequest(1))
    until(line, lambda: line.all(ClockReply), "an answer")


def stream(emulator: Emulator, line: Reader, fed: Fed, upto: int | None = None, base: int = 0) -> None:
    """Feed with credit up to set `upto`, and read all whole blocks of it. `base`: set 0 of this start of the board."""
    end = len(fed.codes) if upto is None else upto
    last = end - base - SETS_IN_BLOCK + 1  # the rest is no whole block
    until_s = time.monotonic() + PATIENCE_S
    while line.sets < last:
        assert time.monotonic() < until_s, f"set {line.sets} of {last} is the last one that came"
        room = min(CREDIT - (emulator.window.fed - base - line.sets), end - emulator.window.fed)
        if room >= SETS_IN_BLOCK or (room > 0 and emulator.window.fed + room == end):
            fed.give(emulator, emulator.window.fed + room)
        line.read()


def sleep(emulator: Emulator, fed: Fed, upto: int) -> None:
    """Feed as fast as the board takes it, and read nothing: the line fills up."""
    until_s = time.monotonic() + PATIENCE_S
    while emulator.window.fed < upto or emulator.window.waiting:
        assert time.monotonic() < until_s, "the board has stopped taking sets"
        if emulator.window.waiting < 500:
            fed.give(emulator, min(upto, emulator.window.fed + 500))


def until(line: Reader, happened: Callable[[], object], what: str) -> None:
    """Read until `happened()` is true."""
    until_s = time.monotonic() + PATIENCE_S
    while not happened():
        assert time.monotonic() < until_s, f"waited in vain: {what}"
        line.read()


def some_codes(sets: int, seed: int) -> NDArray[np.int16]:
    """Codes of the whole range, no two sets alike; the ends and zero among them."""
    draw = np.random.default_rng(seed)
    codes = draw.integers(-32768, 32768, (sets, CHANNELS)).astype(np.int16)
    codes[:3] = [[0] * CHANNELS, [32767] * CHANNELS, [-32768] * CHANNELS]
    return codes


def some_edges(ticks: int, count: int, seed: int) -> tuple[NDArray[np.int64], NDArray[np.uint8]]:
    """Edges at any tick, neighbours in neighbouring ticks among them; each changes something."""
    draw = np.random.default_rng(seed)
    at = np.unique(np.concatenate([draw.integers(1, ticks, count), [1, 2, 50, 100, 101]]))
    return at, np.bitwise_xor.accumulate(draw.integers(1, 16, len(at))).astype(np.uint8)
