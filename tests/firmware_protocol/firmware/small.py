"""Runs the binary of the 8-bit board in simavr: a script of what happens in, wire bytes and conversions out."""

import subprocess
from collections.abc import Sequence
from dataclasses import dataclass
from math import pi, sin
from pathlib import Path

from firmware_protocol import Damage, Decoder, Message, Received, encode_frame

CPU_HZ, TICK_CYCLES = 16_000_000, 64
EDGES_PER_S = 500  # load simavr's line, of 22.7 kB/s, to nine tenths; 600 do less to a real one, of 25 kB/s
BYTE_CYCLES = 800  # between bytes of a PC: a little slower than 250 000 baud
_RUNNER = Path(__file__).with_name("avr_runner.c")


@dataclass(frozen=True)
class Wave:
    """Millivolts at one input of the converter."""

    offset_mv: float
    amplitude_mv: float
    period_cycles: float
    phase: float

    def at(self, cycle: int) -> float:
        turn = cycle % self.period_cycles / self.period_cycles
        return self.offset_mv + self.amplitude_mv * sin(2 * pi * turn + self.phase)


@dataclass(frozen=True)
class Conversion:
    cycle: int
    channel: int
    millivolt: int


class Ran:
    """What came of one run."""

    def __init__(self, wire: bytes, log: str) -> None:
        lines = [line.split() for line in log.splitlines()]
        self.wire = wire
        self.found: list[Received | Damage] = Decoder(from_board=True).feed(wire)
        self.conversions = [Conversion(*map(int, words[1:])) for words in lines if words[0] == "adc"]
        self.frame_ends = [int(words[1]) for words in lines if words[0] == "end"]  # cycles of the delimiters
        self.timer_starts = [int(words[1]) for words in lines if words[0] == "timer"]
        self.divider, self.doubled = next((int(w[1]), bool(int(w[2]))) for w in lines if w[0] == "line")
        self.cycles, self.asleep = next((int(w[1]), int(w[3])) for w in lines if w[0] == "cycles")
        self.stack_bytes = next(int(words[1]) for words in lines if words[0] == "stack")  # at its deepest

    def tick_at(self, cycle: float) -> float:
        """The board's tick at a cycle, with its fraction, after its last start."""
        return (cycle - self.timer_starts[-1]) / TICK_CYCLES


class Small:
    """The binaries in a folder, and the program that runs them."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._runner = folder / "avr_runner"
        command = ["cc", "-std=gnu11", "-O2", "-Wall", "-Wextra", "-Werror", "-o", str(self._runner), str(_RUNNER)]
        done = subprocess.run([*command, "-lsimavr", "-lm"], capture_output=True, text=True, timeout=60, check=False)
        assert done.returncode == 0, done.stderr

    def run(self, seconds: float, waves: Sequence[Wave], happenings: Sequence[str], line: str = "") -> Ran:
        """`happenings`: lines of the script, in any order."""
        given = [f"wave {k} {w.offset_mv} {w.amplitude_mv} {w.period_cycles} {w.phase}" for k, w in enumerate(waves)]
        given += sorted(happenings, key=lambda text: int(text.split()[1]))
        script, log = self.folder / "script", self.folder / "log"
        script.write_text("\n".join(given) + "\n")
        program = self.folder / f"atmega328p{line}.elf"
        command = [str(self._runner), str(program), str(round(seconds * CPU_HZ)), str(script), str(log)]
        done = subprocess.run(command, capture_output=True, timeout=60, check=False)
        assert done.returncode == 0, done
        return Ran(done.stdout, log.read_text())


def said(seconds: float, *messages: Message) -> list[str]:
    """Lines of a script in which a PC says this, from that moment on."""
    data = b"".join(encode_frame(message, sequence=k) for k, message in enumerate(messages))
    return [f"byte {round(seconds * CPU_HZ) + k * BYTE_CYCLES} {byte}" for k, byte in enumerate(data)]
