"""`slipring read`: wire bytes or a recorded run through the pipeline, as fast as it goes; JSON lines."""

import os
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain
from math import inf
from pathlib import Path

from server.commands.options import Parser
from server.commands.streams import flush, say, write
from server.config import ConfigError, RigSettings
from server.live.lines import lines_of, mark_line
from server.motor_check import check_motor
from server.pipeline import Pipeline
from server.runs.layout import Kind
from server.runs.replay import Replay
from server.runs.segments import segments
from server.settings.file import settings_text
from server.settings.text import parse_rig

READ_AT_ONCE = 65_536

EXAMPLES = """\
examples:
  slipring read ventilator.wire
  slipring read 20261125-1402-heron-1 | jq 'select(.kind == "event") | .text'
"""


@dataclass(slots=True)
class _Tally:
    """What was seen, for the last word."""

    bytes_read: int = 0
    frames: int = 0
    described: bool = False


def main(arguments: list[str]) -> int:
    """Exit code: 0 done, 1 nothing of it could be read, 2 mistyped."""
    parser = Parser("read", "Compute wire bytes or a recorded run and print readings, states, events and damage.")
    parser.epilog = EXAMPLES
    parser.add_argument(
        "source", metavar="FILE|-|RUN", help="wire bytes: a file, - (standard input); or a run's folder"
    )
    parser.add_argument("--rig", metavar="SETTINGS.toml", help="settings of a rig, for its motor; else the board's own")
    chosen = parser.parse_args(arguments)
    tally = _Tally()
    try:
        for line in _lines(chosen.source, chosen.rig, tally):
            write(line.encode())
        flush()
    except ConfigError as error:
        return _fail(str(error))
    except OSError as error:
        what = error.filename or ("standard input" if chosen.source == "-" else chosen.source)
        return _fail(f"{what} cannot be read: {error.strerror or error}.")
    if not tally.frames:
        return _fail(f"{chosen.source}: {tally.bytes_read} bytes without one good frame; give wire bytes or a run.")
    if not tally.described:
        return _fail(f"{chosen.source}: the board's description is not in it, so its samples mean nothing.")
    return 0


def _lines(source: str, rig: str | None, tally: _Tally) -> Iterator[str]:
    settings = RigSettings("read")
    if rig is not None:
        text = parse_rig(settings_text(Path(rig)), rig, Path(rig).stem)
        check_motor(text)
        settings = text.settings
    if source != "-" and Path(source).is_dir():
        if not segments(Path(source)):
            raise FileNotFoundError(None, "there is no recording in this folder", source)
        yield from _run_lines(Path(source), settings if rig is not None else None, tally)
        return
    pipeline = Pipeline(settings)
    for data in _pieces(source):
        output = pipeline.push(data, inf)  # when the bytes arrived is not known
        tally.bytes_read += len(data)
        tally.frames += output.frames
        tally.described |= any(part.described is not None for part in output.parts)
        yield from chain.from_iterable(map(lines_of, output.parts))
        flush()


def _pieces(source: str) -> Iterator[bytes]:
    """Pieces as they come; standard input is not waited for until it is full."""
    if source == "-":
        if sys.stdin is None:
            raise OSError(None, "it is closed")
        while data := os.read(sys.stdin.fileno(), READ_AT_ONCE):
            yield data
        return
    with open(source, "rb", buffering=0) as file:
        while data := file.read(READ_AT_ONCE):
            yield data


def _run_lines(run: Path, settings: RigSettings | None, tally: _Tally) -> Iterator[str]:
    replay = Replay(run, settings)
    for played in replay:
        if played.entry is None:
            yield mark_line(played.trouble)
            continue
        if played.entry.kind in (Kind.MARK, Kind.CLOSE):
            yield mark_line(played.entry.text, played.entry.utc_s)
        if played.output is None:
            continue
        tally.bytes_read += len(played.entry.payload)
        tally.frames += played.output.frames
        for part in played.output.parts:
            tally.described |= part.described is not None
            yield from lines_of(part, part.clock)


def _fail(sentence: str) -> int:
    say(f"slipring: {sentence}")
    return 1
