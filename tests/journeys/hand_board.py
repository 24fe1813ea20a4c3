"""A brushless motor in somebody's hand, as a board in real time: `python -m tests.journeys.hand_board`.

Prints the name of its pty. Each line on its standard input is the order of the Hall wires on inputs A, B, C from then
on, such as "0 2 1". Strokes of four electrical turns forward, half a second of rest behind each. Ends with its input.
"""

import os
import select
import sys
import time
import tty
from collections.abc import Iterator
from dataclasses import replace

from firmware_protocol import Edges, Message, Samples, Status, encode_frame
from tests.server.turned_board import description, messages
from tests.server.wiring.turned import TICK_HZ, Hand

REST_S = 0.5


def main() -> None:
    master, slave = os.openpty()
    tty.setraw(slave)
    print(os.ttyname(slave), flush=True)
    os.read(master, 1)
    halls, sequence, begin_s = (0, 1, 2), 0, time.monotonic()

    def send(message: Message) -> None:
        nonlocal sequence
        data = encode_frame(message, sequence=sequence, boot=1)
        sequence += 1
        while data:
            data = data[os.write(master, data) :]
        if select.select([master], [], [], 0)[0]:
            os.read(master, 10_000)

    for message in description():
        send(message)
    told, shift = _Told(), _Shift()
    while True:
        stroke = messages(Hand(halls=halls, turns=4.0), still_s=REST_S)[len(description()) :]
        for message in shift.moved(stroke):
            if isinstance(message, Samples):
                time.sleep(max(0.0, begin_s + message.tick / TICK_HZ - time.monotonic()))
                if (line := told.line()) is None:
                    return
                if line:
                    a, b, c = (int(word) for word in line.split())
                    halls = (a, b, c)
            send(message)


class _Told:
    """The newest line on standard input; "" where there is none now, None at its end."""

    def line(self) -> str | None:
        if not select.select([sys.stdin], [], [], 0)[0]:
            return ""
        data = os.read(
            sys.stdin.fileno(), 1000
        )  # a reader with a buffer of its own would hide a second line from select
        return data.decode().split("\n")[-2] if data else None


class _Shift:
    """Strokes one behind the other in the board's own counts."""

    def __init__(self) -> None:
        self._samples = self._ticks = self._edges = 0
        self._level = -1

    def moved(self, stroke: list[Message]) -> Iterator[Message]:
        blocks = [each for each in stroke if isinstance(each, Samples)]
        for each in stroke:
            if isinstance(each, Samples):
                yield replace(each, first_sample=each.first_sample + self._samples, tick=each.tick + self._ticks)
            elif isinstance(each, Status):
                yield replace(each, tick=each.tick + self._ticks)
            elif isinstance(each, Edges):
                yield from self._changes(each)
        self._samples += blocks[1].first_sample * len(blocks)
        self._ticks += blocks[1].tick * len(blocks)

    def _changes(self, edges: Edges) -> Iterator[Message]:
        """A stroke tells its first level, which may be what the last one ended with."""
        for tick, state in zip(edges.ticks, edges.states, strict=True):
            if state != self._level:
                yield Edges(self._edges, (tick + self._ticks,), bytes([state]))
                self._level, self._edges = state, self._edges + 1


if __name__ == "__main__":
    main()
