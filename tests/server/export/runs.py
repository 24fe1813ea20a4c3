"""Runs to export: the tiny board's story with frames that are lost, and with a board that starts anew."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from firmware_protocol import WORD_CODING, Message, Samples, encode_frame
from server.config import RigSettings
from server.runs.library import Library
from server.runs.recording import Recording
from tests.server.runs.again import again
from tests.server.runs.recordings import Story
from tests.server.tiny_board import CURRENT, HOUSING, STORY, VOLTAGE, TinyBoard

OPENED_UTC_S = 1_795_615_320.0
_STATED = {"gain_limit": 0.01, "offset_limit_codes": 2.0, "delay_limit_ns": 1000}  # so that readings have a ±
NAMED = TinyBoard(
    (replace(VOLTAGE, name="=1+1", **_STATED), replace(CURRENT, name='I "line", total', **_STATED), HOUSING)  # type: ignore[arg-type]  # of the tests
)
SHORT: Story = ((0.3, 0.0, 0.0, 0.0), (0.7, 230.0, 0.5, 1400.0))


def run_of(
    folder: Path,
    story: Story = STORY,
    lost: Sequence[range] = (),
    board: TinyBoard = NAMED,
    starts: int = 1,
) -> Path:
    """A closed run of `bench`; `lost`: sample numbers whose blocks never arrive. All in pieces of 50 ms."""
    library, its = Library(folder), (tuple(story), tuple(lost), board, starts)
    name = again(library, "bench", OPENED_UTC_S, its, lambda there: _recorded(there, *its))
    library.close()
    return folder / name


def _recorded(library: Library, story: Story, lost: Sequence[range], board: TinyBoard, starts: int) -> str:
    recording, now_s = Recording(RigSettings("bench"), library), OPENED_UTC_S
    recording.connected(now_s)
    for start in range(starts):
        its = replace(board, boot=board.boot + start)
        waiting = b""
        for number, message in enumerate(its.messages(story)):
            if not _is_lost(message, lost):
                waiting += encode_frame(message, sequence=number, boot=its.boot)
            if isinstance(message, Samples):
                now_s += 0.01
                if message.first_sample % 50 == 40:
                    recording.chunk(waiting, now_s)
                    waiting = b""
        recording.chunk(waiting, now_s)
        now_s += 2.0
    recording.end_run(now_s)
    recording.stop(now_s)
    (run,) = library.runs()
    return run.name


def _is_lost(message: Message, lost: Sequence[range]) -> bool:
    return isinstance(message, Samples) and any(message.first_sample in each for each in lost)


def sent(story: Story = STORY) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    """Volts and amperes (samples, 2) as the board means them, taken from the messages by SPEC.md's rule alone."""
    words = b"".join(each.words for each in NAMED.messages(story) if isinstance(each, Samples))
    codes = (np.frombuffer(words, "<u2") ^ WORD_CODING).astype("<u2").view("<i2").reshape(-1, 2)
    values: np.ndarray[tuple[int, ...], np.dtype[np.float64]] = codes * np.array([VOLTAGE.scale, CURRENT.scale])
    return values
