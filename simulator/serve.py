"""The shell of a software board: it keeps the board's time in step with ours, or a multiple of it, and moves bytes.

It never blocks on a reader: what a line that is open does not take waits in a short queue, and then the board
drops blocks and counts them in its status. Late by more than half a second, it says so and the board misses time.
"""

import contextlib
import os
import stat
import threading
import time
from collections.abc import Callable

from simulator.board import Board
from simulator.lines import BoardLine

PACE_S = 0.005  # a block is at most this long
QUEUE_BYTES_MAX = 131_072  # under half a second of the fullest board; more would only be old when it is read
BEHIND_S_MAX = 0.5
RUSH_STEP_S, RUSH_BYTES = 0.05, 65_536
LINGER_S = 1.0  # a pty that closes takes along what has not been read yet
LINE_BYTES_MAX = 65_536  # of standard input; what is longer is cut, and refused where its end comes
SETTLE_S = 0.2  # who opens a serial port empties its input buffer first


class Paced:
    """A board on a line. `now_s` is a clock that only goes forward; `pace` board seconds pass in one of its seconds.

    `spoil` is what the line does to the bytes of the board.
    """

    def __init__(
        self,
        board: Board,
        line: BoardLine,
        say: Callable[[str], None],
        now_s: Callable[[], float] = time.monotonic,
        *,
        pace: float = 1.0,
        spoil: Callable[[bytes], bytes] = bytes,
    ) -> None:
        self._board, self._line, self._say, self._now_s, self._spoil = board, line, say, now_s, spoil
        self._rate = pace * (1.0 + 1e-6 * board.clock_error_ppm)  # board seconds in a true second
        self._waits = pace > 1.0  # faster than real time there is no real time to keep: it waits instead of dropping
        self._requests = b""
        self._was_open = False
        # The first stretch compiles the model, which is not a part of the board's time.
        self._queue = bytearray(spoil(board.step(0.0)))
        self._begin_s = now_s()
        self._passed_s = 0.0

    def begin_when_opened(self) -> None:
        """Wait until somebody has opened the line: a recording that is played once begins then, not unheard."""
        while not self._line.is_open:
            self._requests += self._line.wait(10 * PACE_S)
        self._requests += self._line.wait(SETTLE_S)
        self._begin_s = self._now_s()

    def run(self) -> None:
        """Until the source ends and what it sent is gone; a source without end runs for ever."""
        while not (self._board.ended and not self._queue):
            self.turn()
        end_s = self._now_s() + LINGER_S
        while self._line.is_open and self._now_s() < end_s:
            self._line.wait(PACE_S)

    def rush(self) -> None:
        """As fast as the line takes it, for ever: nothing is dropped, and the board waits while nobody listens."""
        while not self._board.ended or self._queue:
            requests = self._line.wait(0.0 if self._line.is_open and len(self._queue) < RUSH_BYTES else PACE_S)
            if self._line.is_open and not self._was_open:
                self._queue += b"\0"  # ends whatever frame the one before left half read
            self._was_open = self._line.is_open
            if self._line.is_open and len(self._queue) < RUSH_BYTES:
                self._queue += self._spoil(self._board.step(RUSH_STEP_S))
            if requests:
                self._queue += self._spoil(self._board.receive(requests))
            if self._line.is_open:
                del self._queue[: self._line.write(bytes(self._queue))]

    def turn(self) -> None:
        """Wait until the next beat or for control bytes; let the board live up to now; move its bytes."""
        to_next_s = PACE_S - (self._now_s() - self._begin_s) % PACE_S
        if to_next_s < PACE_S / 10:  # woken a hair before this beat: it counts as come
            to_next_s += PACE_S
        requests = self._requests + self._line.wait(to_next_s)
        self._requests = b""
        self._catch_up()
        if self._line.is_open:
            if not self._was_open:
                self._queue += b"\0"  # ends whatever frame the one before left half read
            self._live(requests)
            del self._queue[: self._line.write(bytes(self._queue))]
        else:
            self._live(requests)
            self._queue.clear()  # sent into an open end
        self._was_open = self._line.is_open

    def _due_s(self) -> float:
        """Board seconds that are due and have not been lived."""
        return (self._now_s() - self._begin_s) * self._rate - self._passed_s

    def _catch_up(self) -> None:
        late_s = self._due_s()
        if late_s <= BEHIND_S_MAX * self._rate or self._waits:
            return
        dropped = self._board.dropped_blocks
        self._passed_s += self._board.miss(late_s)
        dropped = self._board.dropped_blocks - dropped
        self._say(f"The software board was {late_s / self._rate:.1f} s behind real time; it dropped {dropped} blocks.")

    def _live(self, requests: bytes) -> None:
        due_s = max(0.0, self._due_s())
        lived_s = due_s
        if self._waits:  # what is too much for line or processor makes it slower
            lived_s = min(due_s, 2 * PACE_S * self._rate) if len(self._queue) < RUSH_BYTES else 0.0
        self._queue += self._spoil(self._board.step(lived_s, self._room()))
        self._passed_s += due_s
        if requests:
            self._queue += self._spoil(self._board.receive(requests, self._room()))

    def _room(self) -> int | None:
        return QUEUE_BYTES_MAX - len(self._queue) if self._line.is_open and not self._waits else None


def end_with_standard_input(answer: Callable[[str], str] | None = None) -> None:
    """End the whole process when standard input closes, if it is a pipe or socket: the lifeline of a child.

    It needs no signal, so nothing is left behind however the parent ended. A terminal has Ctrl-C, and a
    background process that reads its terminal would be stopped for it; a file or /dev/null is no lifeline.
    Lines that come there go to `answer`, and what that returns to standard output.
    """
    with contextlib.suppress(OSError):
        mode = os.fstat(0).st_mode
        if stat.S_ISFIFO(mode) or stat.S_ISSOCK(mode):
            threading.Thread(target=_read_to_the_end, args=(answer,), daemon=True).start()


def _read_to_the_end(answer: Callable[[str], str] | None) -> None:
    waiting = b""
    with contextlib.suppress(OSError):
        while read := os.read(0, 4096):
            *lines, waiting = (waiting + read).split(b"\n")
            if answer is not None:
                for line in lines:
                    print(answer(line.decode(errors="replace")), flush=True)
            waiting = waiting[:LINE_BYTES_MAX]
    os._exit(0)
