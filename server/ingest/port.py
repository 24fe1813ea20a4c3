"""One port, one thread: opens it, asks the board, reads, hands over chunks with their arrival time, opens it again.

The thread waits for bytes, reads until the port is empty, hands over one chunk and pauses: at most 200 hand-overs a
second, whatever the board sends. It never raises; how the port is comes out as PortReports.
"""

import logging
import threading
import time
from collections.abc import Callable

import serial

from firmware_protocol import ClockRequest, Describe, Message, Start, Stop, encode_frame
from server.ingest.first_sight import FirstSight, Sight
from server.ingest.line import Line, LineGoneError, is_pty, open_line
from server.ingest.refusals import explain
from server.ingest.report import PortReport

PAUSE_S = 0.005  # between two reads: what is gathered in the meantime costs one wake-up instead of many
WAIT_S = 0.1  # the longest wait for bytes, so that a stop or a due request is not held up
RETRY_S = 1.0  # a board that was plugged in again is back within two seconds
DESCRIBE_EVERY_S = 1.0  # until the description is complete
ASK_EVERY_S = 0.5  # when the rig wants it, however often it says so
CLOCK_EVERY_S = 2.0
CLOCK_AT_FIRST_S = 0.2  # for the first second, so that the clock is known soon
STOP_WITHIN_S = 2.5  # a thread that is connecting a socket cannot be stopped before CONNECT_S is over

log = logging.getLogger(__name__)


class Port:
    """`on_chunk(bytes, arrival UTC s)` and `on_report(PortReport)` are called in the port's thread and must be quick.

    `utc_s` is the service's clock. A chunk is not handed over while the port is refused.
    """

    def __init__(
        self,
        url: str,
        baud: int,
        utc_s: Callable[[], float],
        on_chunk: Callable[[bytes, float], None],
        on_report: Callable[[PortReport], None],
    ) -> None:
        self.url = url
        self._baud = baud
        self._utc_s = utc_s
        self._on_chunk = on_chunk
        self._on_report = on_report
        self._ending = threading.Event()
        self._asked = threading.Event()
        self._was_live = False
        self._pty = is_pty(url)  # what has a pty's name after it is somebody else's: such a port has one life
        self._last: tuple[str, str] = ("", "")
        self.thread = threading.Thread(target=self._run, name=f"port {url}", daemon=True)

    def start(self) -> None:
        self.thread.start()

    def ask(self) -> None:
        """Ask the board again who it is, and to send: it has started anew. Any thread."""
        self._asked.set()

    def stop(self) -> None:
        """Close the port and wait until the thread has ended."""
        self._ending.set()
        if self.thread.is_alive():
            self.thread.join(STOP_WITHIN_S)

    def _run(self) -> None:
        while not self._ending.is_set():
            try:
                line = open_line(self.url, self._baud)
            except (OSError, ValueError, serial.SerialException) as error:
                state, text, detail = explain(error, self.url)
                state = "disconnected" if state == "no_board" and self._was_live else state
                over = self._pty and state != "refused"
                self._report(state, text, detail, None if over else RETRY_S)
            else:
                over = self._use(line)
            if over:
                return
            self._ending.wait(RETRY_S)

    def _use(self, line: Line) -> bool:
        """Until its end or ours; whether that was the end of the port too."""
        try:
            _Talk(line, self._utc_s).serve(self._ending, self._asked, self._on_chunk, self._sighted)
        except LineGoneError as error:
            state = "disconnected" if self._was_live else "no_board"
            detail = "Start the board and give the rig its new port." if self._pty else "Plug the board in again."
            text = f"The port {self.url} is gone ({_words(error)})"
            self._report(state, text, detail, None if self._pty else RETRY_S)
            return self._pty
        except Exception as error:  # ours; the thread must live, or the rig would be dead without a word
            log.exception("Reading %s failed", self.url)
            text = f"Slipring made a mistake while reading {self.url} ({error!r})"
            self._report("refused", text, "What went wrong stands in its terminal.", RETRY_S)
        finally:
            line.close()
        return False

    def _sighted(self, sight: Sight) -> None:
        self._was_live |= sight.state == "live"
        self._report(sight.state, sight.text, sight.detail, None, is_open=True)

    def _report(self, state: str, text: str, detail: str, retry_s: float | None, is_open: bool = False) -> None:
        if self._last != (state, text):
            self._last = (state, text)
            self._on_report(PortReport(state, text, detail, self._utc_s(), self.url, retry_s, is_open))


class _Talk:
    """One connection, from opening to closing: what was sent, what is due, what was seen first."""

    def __init__(self, line: Line, utc_s: Callable[[], float]) -> None:
        self._line = line
        self._utc_s = utc_s
        self._sequence = 0
        self._unsent = b""
        now_s = time.monotonic()
        self._opened_s = now_s
        self._describe_due_s = self._clock_due_s = self._ask_due_s = now_s
        self._sight: FirstSight | None = FirstSight(now_s, line.bytes_per_s)
        self._asking = Describe()  # how a board that is read is asked to say it again
        self._refused = False

    def serve(
        self,
        ending: threading.Event,
        asked: threading.Event,
        on_chunk: Callable[[bytes, float], None],
        sighted: Callable[[Sight], None],
    ) -> None:
        """Until `ending` is set. Raises LineGoneError."""
        while not ending.is_set():
            now_s = time.monotonic()
            if now_s >= self._ask_due_s and asked.is_set():
                asked.clear()
                self._ask_due_s = now_s + ASK_EVERY_S
                self._say(self._asking, Start())
            if now_s >= self._clock_due_s:
                self._ask_clock(now_s)
            chunk = self._line.read(WAIT_S)
            arrival_s = self._utc_s()
            if self._sight is not None:
                self._look(chunk, now_s, sighted)
            if chunk:
                if not self._refused:
                    on_chunk(chunk, arrival_s)
                time.sleep(PAUSE_S)

    def _ask_clock(self, now_s: float) -> None:
        every_s = CLOCK_AT_FIRST_S if now_s - self._opened_s < 1.0 else CLOCK_EVERY_S
        self._clock_due_s = now_s + every_s
        if not self._refused:
            self._say(ClockRequest(round(self._utc_s() * 1e6)))

    def _look(self, chunk: bytes, now_s: float, sighted: Callable[[Sight], None]) -> None:
        """Until the description is complete: look at the bytes, and ask again."""
        assert self._sight is not None
        if chunk:
            self._sight.feed(chunk, now_s)
        sight = self._sight.judge(now_s)
        if sight.state == "refused" and not self._refused and self._sight.described:
            self._say(Stop())  # what does not fit the line would only be lost piece by piece
        self._refused = sight.state == "refused"
        sighted(sight)
        if sight.state == "live":
            self._asking, self._sight = self._sight.asking(), None
            self._say(Start())  # not before: what cannot be understood, or does not fit the line, is not asked for
        elif now_s >= self._describe_due_s:
            self._describe_due_s = now_s + DESCRIBE_EVERY_S
            if not self._refused or self._sight.identity is not None:  # what is not ours is left alone
                self._say(self._sight.asking())

    def _say(self, *messages: Message) -> None:
        """Send what the line takes; a board that does not read gets nothing more, and nothing waits for it."""
        if not self._unsent:
            for message in messages:
                self._unsent += encode_frame(message, sequence=self._sequence)
                self._sequence += 1
        self._unsent = self._unsent[self._line.write(self._unsent) :]


def _words(error: OSError) -> str:
    return error.strerror or str(error)
