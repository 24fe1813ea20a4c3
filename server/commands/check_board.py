"""`slipring check-board`: talks to a board for a minute and says, line by line, whether it does what SPEC.md asks."""

import json
import time
from argparse import Namespace
from collections.abc import Iterator
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path

from firmware_protocol import ClockRequest, Decoder, Status, encode_frame
from server import VERSION
from server.board_check import CHECKS, CLOCK_EVERY_S, Check, Heard, Phase, Record, Seen, State, Step, script
from server.board_check.record import STREAM
from server.commands.streams import say, write
from server.ingest.line import Line, LineGoneError, open_line
from server.ingest.refusals import explain

NOT_TRIED = 2  # exit code: nobody could be asked
_READ_S = 0.005
CAUTION = (
    "This check asks and listens; it acts on no motor. A motor may run meanwhile, or be started by somebody else:\n"
    "keep clear of what turns and of what is live. Slipring is no safety device."
)


def run(chosen: Namespace) -> int:
    where = chosen.bytes or chosen.port
    try:
        record = from_file(Path(chosen.bytes)) if chosen.bytes else talk(chosen.port, chosen.baud, chosen.seconds)
    except OSError as error:
        what, instead = explain(error, where)[1:] if not chosen.bytes else (f"{where} cannot be read", str(error))
        say(f"slipring check-board: {what}. {instead}")
        return NOT_TRIED
    except ValueError as error:
        say(f"slipring check-board: {error}")
        return NOT_TRIED
    found = [(check, check.judge(record)) for check in CHECKS]
    lines = as_json(found) if chosen.json else table(found)
    for line in lines:
        write(f"{line}\n".encode())
    if chosen.report:
        Path(chosen.report).write_text("\n".join(report(where, record, found)) + "\n", encoding="utf-8")
        say(f"The report stands in {chosen.report}.")
    return 1 if any(seen.state is State.FAILED for _, seen in found) else 0


def talk(port: str, baud: int, seconds: float) -> Record:
    """The whole script, on a real line. Raises OSError or ValueError where the port cannot be opened, or goes away."""
    line = open_line(port, baud)
    say(f"{CAUTION}\nThe board at {port} is listened to for {seconds + 6:.0f} s.")
    record = Record(seconds, line.bytes_per_s)
    try:
        decoder = Decoder(from_board=True)
        for step in script(seconds):
            _carry_out(step, line, decoder, record)
    except LineGoneError as error:
        raise ValueError(f"{port} went away in the middle of the check ({error}); plug the board in again") from None
    finally:
        line.close()
    return record


def _carry_out(step: Step, line: Line, decoder: Decoder, record: Record) -> None:
    unsent, begun_s = step.data, time.monotonic()
    phase = Phase(step.phase, begun_s if step.data else None)
    record.phases.append(phase)
    clock_due_s = begun_s
    while (now_s := time.monotonic()) < begun_s + step.listen_s:
        if step.clock and now_s >= clock_due_s and not unsent:
            clock_due_s = now_s + CLOCK_EVERY_S
            token = round(now_s * 1e6)
            record.asked_s[token] = now_s
            unsent = encode_frame(ClockRequest(token), sequence=100 + len(record.asked_s))
        unsent = unsent[line.write(unsent) :] if unsent else b""
        chunk = line.read(_READ_S)
        at_s = time.monotonic()
        phase.heard += [Heard(at_s, item) for item in decoder.feed(chunk)]


def from_file(path: Path) -> Record:
    """The record that bytes of the wire give: nothing was asked, and nobody knows when what arrived."""
    heard = [Heard(None, item) for item in Decoder(from_board=True).feed(path.read_bytes())]
    record = Record(0.0, None, [Phase(STREAM, None, heard)], answers=False)
    ticks = [status.tick for status in record.of(Status)]
    if ticks and record.description is not None:
        record.seconds = (ticks[-1] - ticks[0]) / record.description.identity.tick_hz
    return record


def table(found: list[tuple[Check, Seen]]) -> Iterator[str]:
    for check, seen in found:
        yield f"{seen.state.value:9}  {check.name:22}  {seen.what}"
        if seen.state is State.FAILED:
            yield f"{'':9}  {'':22}  {check.mend[0].upper()}{check.mend[1:]} (SPEC.md, section {check.section})."
    yield summary(found)


def summary(found: list[tuple[Check, Seen]]) -> str:
    counts = {state: sum(seen.state is state for _, seen in found) for state in State}
    return ", ".join(f"{counts[state]} {state.value}" for state in State)


def as_json(found: list[tuple[Check, Seen]]) -> Iterator[str]:
    for check, seen in found:
        line = {"check": check.name, **asdict(seen), "section": check.section}
        if seen.state is State.FAILED:
            line["mend"] = check.mend
        yield json.dumps(line, ensure_ascii=False)


def report(where: str, record: Record, found: list[tuple[Check, Seen]]) -> Iterator[str]:
    """What is kept: which board, when, how long, and the table."""
    when = datetime.now(UTC).strftime("%Y-%m-%d %H:%M:%S UTC")
    said = record.description
    yield "# Check of a board"
    yield ""
    yield f"- {when}, slipring {VERSION}, {where}"
    if said is not None:
        who = said.identity
        yield f"- board {who.serial}, {who.model or 'no model'}, firmware {who.firmware or 'unknown'}, boot {who.boot}"
    yield (
        f"- streamed for {record.seconds:g} s" if record.answers else "- a file: nothing was asked, no time of arrival"
    )
    yield f"- {summary(found)}"
    yield ""
    yield "| check | | seen | SPEC.md |"
    yield "|---|---|---|---:|"
    for check, seen in found:
        mend = f". To mend: {check.mend}" if seen.state is State.FAILED else ""
        yield f"| {check.name} | {seen.state.value} | {seen.what.replace('|', '/')}{mend} | {check.section} |"
    yield ""
    yield "What was not tried is not proven. Slipring only watches: this check says nothing of the safety of a board."
