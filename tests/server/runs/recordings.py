"""Runs for tests: the tiny board's story recorded as a rig does it, in a fraction of a second."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path

from firmware_protocol import Samples
from server.config import RigSettings
from server.runs.layout import Entry, Numbered, record
from server.runs.library import Library
from server.runs.recording import Recording
from server.runs.segments import entries
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
    recording, sent = Recording(RigSettings(rig), library, calibrations=calibrations), list[list[bytes]]([[]])
    for message, frame in zip(board.messages(story), board.frames(story), strict=True):
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


def segment_of(library: Library, name: str) -> Path:
    return library.folder / name / "0001.run"


def rewritten(segment: Path, time_of: Callable[[Entry], float]) -> None:
    """The same entries at other times, with right checksums: a file that was made so."""
    there = [each for each in entries(segment) if isinstance(each, Numbered)]
    segment.write_bytes(b"".join(record(each.number, replace(each.entry, utc_s=time_of(each.entry))) for each in there))
