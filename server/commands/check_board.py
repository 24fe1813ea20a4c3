"""`slipring check-board`: talks to a board for a minute and says, line by line, whether it does what SPEC.md asks."""

import time
from argparse import Namespace
from datetime import UTC, datetime
from pathlib import Path

from firmware_protocol import ClockRequest, Decoder, Status
from server import VERSION
from server.board_check import CHECKS, CLOCK_EVERY_S, Heard, Phase, Record, State, Step, Voice, script
from server.board_check.record import DESCRIBE, STREAM
from server.board_check.report import Found, json_lines, judged, report, table
from server.commands.streams import say, write
from server.ingest.first_sight import shown_bytes
from server.ingest.line import Line, LineGoneError, open_line
from server.ingest.refusals import explain

NOT_TRIED = 2  # exit code: there was no board to be asked
_READ_S = 0.005
_KEPT = 64  # first bytes, to show what is on a line without a board
_FILE_PIECE = 1 << 20
CAUTION = (
    "This check asks and listens; it acts on no motor. A motor may run meanwhile, or be started by somebody else:\n"
    "keep clear of what turns and of what is live. Slipring is no safety device."
)


class NobodyError(Exception):
    """There is no board to be judged; the sentence says what was there instead."""


def run(chosen: Namespace) -> int:
    where = chosen.bytes or chosen.port
    try:
        if chosen.report:
            Path(chosen.report).open("a").close()  # before a minute has passed for nothing
        record = from_file(Path(where)) if chosen.bytes else talk(where, chosen.baud, chosen.seconds, not chosen.listen)
        found = judged(CHECKS, record)
        for line in json_lines(found) if chosen.json else table(found):
            write(f"{line}\n".encode())
        if chosen.report:
            _keep(Path(chosen.report), where, record, found)
    except NobodyError as error:
        say(f"slipring check-board: {error}")
        return NOT_TRIED
    except OSError as error:  # of the report; the rest has its own sentences
        say(f"slipring check-board: the report cannot be written to {chosen.report} ({error.strerror}).")
        return NOT_TRIED
    return 1 if any(seen.state is State.FAILED for _, seen in found) else 0


def _keep(path: Path, where: str, record: Record, found: Found) -> None:
    when = datetime.now(UTC).strftime("%Y-%m-%d %H:%M:%S UTC")
    path.write_text("\n".join(report(where, when, VERSION, record, found)) + "\n", encoding="utf-8")
    say(f"The report stands in {path}.")


def talk(port: str, baud: int, seconds: float, answers: bool = True) -> Record:
    """The whole script on a real line; without `answers` nothing is sent. Raises NobodyError."""
    try:
        line = open_line(port, baud)
    except (OSError, ValueError) as error:
        raise NobodyError(". ".join(explain(error, port)[1:])) from error
    steps = list(script(seconds, answers))
    say(f"{CAUTION}\nThe board at {port} is listened to for {sum(step.listen_s for step in steps):.0f} s.")
    record = Record(seconds, line.bytes_per_s, answers=answers)
    ear = _Ear()
    try:
        for step in steps:
            _carry_out(step, line, ear, record)
            if step.phase in (DESCRIBE, STREAM) and not ear.decoder.good_frames:
                raise NobodyError(_nobody(port, ear))
    except LineGoneError as error:
        if not ear.decoder.good_frames:
            raise NobodyError(f"{port} went away before a board was heard ({error.strerror or error})") from None
        record.gone = record.phases[-1].name
    finally:
        line.close()
    return record


class _Ear:
    """What decodes, the first bytes that came, and the voice of this side."""

    def __init__(self) -> None:
        self.decoder, self.voice, self.first = Decoder(from_board=True), Voice(), b""

    def hear(self, chunk: bytes, at_s: float | None) -> list[Heard]:
        self.first += chunk[: _KEPT - len(self.first)]
        return [Heard(at_s, item) for item in self.decoder.feed(chunk)]


def _nobody(port: str, ear: _Ear) -> str:
    if not ear.first:
        return f"not one byte came from {port}. Check that the board has power, and that this is its port."
    return f"this is not a Slipring board: {port} sends {shown_bytes(ear.first)}. Check port and --baud."


def _carry_out(step: Step, line: Line, ear: _Ear, record: Record) -> None:
    unsent, begun_s = step.says(ear.voice), time.monotonic()
    phase = Phase(step.phase, begun_s if unsent else None)
    record.phases.append(phase)
    clock_due_s = begun_s
    while (now_s := time.monotonic()) < begun_s + step.listen_s:
        if step.clock and now_s >= clock_due_s and not unsent:
            clock_due_s = now_s + CLOCK_EVERY_S
            token = round(now_s * 1e6)
            record.asked_s[token] = now_s
            unsent = ear.voice.frame(ClockRequest(token))
        unsent = unsent[line.write(unsent) :] if unsent else b""
        chunk = line.read(_READ_S)
        for heard in ear.hear(chunk, time.monotonic()):
            phase.add(heard)


def from_file(path: Path) -> Record:
    """The record that bytes of the wire give: nobody was asked or knows when they arrived. Raises NobodyError."""
    ear, phase = _Ear(), Phase(STREAM, None)
    try:
        with path.open("rb") as file:
            while piece := file.read(_FILE_PIECE):
                for heard in ear.hear(piece, None):
                    phase.add(heard)
    except OSError as error:
        raise NobodyError(f"{path} cannot be read ({error.strerror}).") from error
    if not ear.decoder.good_frames:
        raise NobodyError(f"{path} holds no good frame, but {shown_bytes(ear.first) if ear.first else 'nothing'}.")
    record = Record(0.0, None, [phase], answers=False)
    ticks = [status.tick for status in record.of(Status)]
    if ticks and record.description is not None:
        record.seconds = (ticks[-1] - ticks[0]) / record.description.identity.tick_hz
    return record
