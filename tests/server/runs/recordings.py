"""Runs for tests: the tiny board's story recorded as a rig does it, in a fraction of a second."""

import json
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path

from firmware_protocol import Samples
from server.config import RigSettings
from server.runs.layout import FORMAT, Entry, Kind, Numbered, record
from server.runs.library import Library
from server.runs.recording import Recording
from server.runs.segments import entries
from server.settings.text import rig_text
from tests.server.runs.again import again
from tests.server.tiny_board import STORY, TinyBoard

OPENED_UTC_S = 1_795_615_320.0
LASTS_S = sum(seconds for seconds, *_ in STORY)
Story = tuple[tuple[float, float, float, float], ...]


def recorded_run(
    library: Library,
    rig: str = "bench",
    opened_utc_s: float = OPENED_UTC_S,
    story: Story = STORY,
    closed: bool = True,
    board: TinyBoard = TinyBoard(),  # noqa: B008  # frozen
    calibrations: Mapping[str, str] | None = None,
) -> str:
    """Record a story from this moment on, its bytes 50 ms by 50 ms; the name of the run."""

    def make(there: Library) -> str:
        return _recorded(there, rig, opened_utc_s, story, closed, board, calibrations)

    its = story, closed, board, None if calibrations is None else tuple(calibrations.items())
    return again(library, rig, opened_utc_s, its, make)


def _recorded(
    library: Library,
    rig: str,
    opened_utc_s: float,
    story: Story,
    closed: bool,
    board: TinyBoard,
    calibrations: Mapping[str, str] | None,
) -> str:
    recording, sent = Recording(RigSettings(rig), library, calibrations=calibrations), list[list[bytes]]([[]])
    messages = board.messages(story)
    for message, frame in zip(messages, board.framed(messages), strict=True):
        sent[-1].append(frame)
        if isinstance(message, Samples) and message.first_sample % 50 == 40:
            sent.append([])
    recording.connected(opened_utc_s)
    for k, frames in enumerate(sent):
        recording.chunk(b"".join(frames), opened_utc_s + 0.05 * (k + 1))
    ended_utc_s = opened_utc_s + 0.05 * (len(sent) + 1)
    if closed:
        recording.end_run(ended_utc_s)
    recording.stop(ended_utc_s)
    return next(run.name for run in library.runs() if run.rig == rig)


def segment_bytes(seconds: float, board: TinyBoard = TinyBoard()) -> bytes:  # noqa: B008  # frozen
    """The plain segment of a closed run, as the recorder writes it, chunks of 50 ms; nothing was computed for it."""
    wire = board.wire(((seconds, 230.0, 0.5, 1400.0),))
    size = round(len(wire) * 0.05 / seconds)
    chunks = [wire[at : at + size] for at in range(0, len(wire), size)]
    opening = json.dumps({"serial": board.serial, "reason": "the board was described"}).encode()
    entries = [
        Entry(Kind.OPEN, OPENED_UTC_S, opening),
        Entry(Kind.BEGIN, OPENED_UTC_S, rig_text(RigSettings("bench")).encode()),
        *(Entry(Kind.CHUNK, OPENED_UTC_S + 0.05 * (k + 1), chunk) for k, chunk in enumerate(chunks)),
        Entry(Kind.CLOSE, OPENED_UTC_S + seconds + 0.1, b"ended by a person"),
    ]
    head = json.dumps({"format": FORMAT, "run": "20261125-1402-bench", "rig": "bench", "segment": 1}).encode()
    first = record(0, Entry(Kind.SEGMENT, 0.0, head))
    return first + b"".join(record(number, entry) for number, entry in enumerate(entries))


def segment_of(library: Library, name: str) -> Path:
    return library.folder / name / "0001.run"


def rewritten(segment: Path, time_of: Callable[[Entry], float]) -> None:
    """The same entries at other times, with right checksums: a file that was made so."""
    there = [each for each in entries(segment) if isinstance(each, Numbered)]
    segment.write_bytes(b"".join(record(each.number, replace(each.entry, utc_s=time_of(each.entry))) for each in there))
