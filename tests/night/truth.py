"""What the board sent and what became of it on the way, by the frames that it made: the journal of a night.

A line of JSON each, written before the bytes go: so a night that is interrupted goes on from there.
"""

import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeAlias

from firmware_protocol import Edges, Message, Singles, decode_frame
from firmware_protocol.messages import SampleBlock

Counter: TypeAlias = tuple[str, int]  # as an account names it: what, and its number
Span: TypeAlias = tuple[str, int, int, int]  # what, its number, first, behind the last


@dataclass(frozen=True, slots=True)
class Sent:
    """Some of one counter of one start of the board. `cause`: why it cannot have come, or empty; `maybe`: it may be
    missing for this cause or not; `at_s`: bench time."""

    boot: int
    counter: Counter
    first: int
    behind: int
    cause: str
    maybe: bool
    at_s: float


class Journal:
    """Of one night; it is gone on with where it is there."""

    def __init__(self, path: Path) -> None:
        self._file = path.open("a", encoding="utf-8")

    def write(self, kind: str, at_s: float, **told: Any) -> None:
        self._file.write(json.dumps({"kind": kind, "at_s": round(at_s, 6), **told}) + "\n")
        self._file.flush()

    def sent(self, at_s: float, boot: int, frames: Iterable[bytes], cause: str = "", maybe: bool = False) -> None:
        """Frames with their delimiters. `cause`: why they do not come."""
        if spans := joined(span for frame in frames for span in counted(frame)):
            self.write("sent", at_s, boot=boot, spans=spans, cause=cause, maybe=maybe)

    def close(self) -> None:
        self._file.close()


def lines(path: Path) -> list[dict[str, Any]]:
    """All that was written; a last line that was cut off is none."""
    return [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines(True) if line.endswith("\n")]


def sent_of(told: Iterable[dict[str, Any]]) -> Iterator[Sent]:
    """What a journal says of samples and edges."""
    for line in told:
        if line["kind"] == "sent":
            for what, number, first, behind in line["spans"]:
                its = line["boot"], (what, number), first, behind
                yield Sent(*its, line["cause"], line["maybe"], line["at_s"])


def counted(frame: bytes) -> Iterator[Span]:
    """What a board's frame counts, with its delimiter."""
    message = decode_frame(frame[:-1]).message()
    if message is not None:
        yield from spans_of(message)


def spans_of(message: Message) -> Iterator[Span]:
    """Samples by their group, edges, single samples by their channel (SPEC.md)."""
    if isinstance(message, SampleBlock):
        yield "samples", message.group, message.first_sample, message.first_sample + message.count
    elif isinstance(message, Edges):
        yield "edges", 0, message.first_edge, message.first_edge + len(message.ticks)
    elif isinstance(message, Singles):
        for each in message.singles:
            yield "single samples", each.channel, each.number, each.number + 1


def joined(spans: Iterable[Span]) -> list[Span]:
    """What follows on itself as one, in the order in which it came."""
    newest: dict[Counter, int] = {}
    out = list[Span]()
    for what, number, first, behind in spans:
        at = newest.get((what, number), -1)
        if at >= 0 and out[at][3] == first:
            out[at] = what, number, out[at][2], behind
        else:
            newest[what, number] = len(out)
            out.append((what, number, first, behind))
    return out
