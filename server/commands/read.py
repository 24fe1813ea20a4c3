"""`slipring read`: wire bytes or a recorded run through the pipeline, as fast as it goes; JSON lines."""

import os
import sys
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import chain
from math import inf
from pathlib import Path
from time import time
from typing import TypeAlias

from server.calibration.entry import BoardCalibration
from server.calibration.files import CalibrationFiles
from server.calibration.text import parse_calibration
from server.commands.options import Parser, add_data
from server.commands.run_named import run_named
from server.commands.streams import flush, say, write
from server.config import ConfigError, RigSettings
from server.data_folder import default_data_folder
from server.live.lines import lines_of, mark_line
from server.motor_check import check_motor
from server.pipeline import Pipeline
from server.runs.layout import Kind
from server.runs.replay import Replay
from server.runs.segments import segments
from server.settings.file import settings_text
from server.settings.text import parse_rig

READ_AT_ONCE = 65_536
Calibrations: TypeAlias = Mapping[str, BoardCalibration]

EXAMPLES = """\
examples:
  slipring read ventilator.wire
  slipring read 20261125-1402-heron-1 --calibration today
  slipring read 20261125-1402-heron-1 | jq 'select(.kind == "event") | .text'
"""


@dataclass(slots=True)
class _Tally:
    """What was seen, for the last word."""

    bytes_read: int = 0
    frames: int = 0
    described: bool = False
    trouble: str = ""  # the first of `troubles` parts of a run that could not be read
    troubles: int = 0


def main(arguments: list[str]) -> int:
    """Exit code: 0 done, 1 some or all of it could not be read, 2 mistyped."""
    parser = Parser("read", "Compute wire bytes or a recorded run and print readings, states, events and damage.")
    parser.epilog = EXAMPLES
    parser.add_argument(
        "source",
        metavar="FILE|-|RUN",
        help="wire bytes: a file, - (standard input); or a run: its folder, or its name in the data folder",
    )
    parser.add_argument("--rig", metavar="SETTINGS.toml", help="settings of a rig, for its motor; else the board's own")
    parser.add_argument(
        "--calibration",
        choices=("then", "today", "none"),
        default="then",
        help="which calibration of the board holds: that of the run (then), the one kept now, or what the board says",
    )
    add_data(parser)
    chosen = parser.parse_args(arguments)
    tally = _Tally()
    try:
        if chosen.source != "-" and not Path(chosen.source).exists():
            run = run_named(chosen.source, chosen.data)
            if run is None:
                return _fail(
                    f'there is no file and no run "{chosen.source}"; a name is looked for in the folder of --data.'
                )
            chosen.source = str(run)
        calibrations = _calibrations(chosen.calibration, chosen.source, chosen.data)
        for line in _lines(chosen.source, chosen.rig, calibrations, tally):
            write(line.encode())
        flush()
    except ConfigError as error:
        return _fail(str(error))
    except OSError as error:
        what = error.filename or ("standard input" if chosen.source == "-" else chosen.source)
        return _fail(f"{what} cannot be read: {error.strerror or error}.")
    if tally.troubles:
        return _fail(f"{chosen.source}: {_unread(tally)}.")
    if not tally.frames:
        return _fail(f"{chosen.source}: {tally.bytes_read} bytes without one good frame; give wire bytes or a run.")
    if not tally.described:
        return _fail(f"{chosen.source}: the board's description is not in it, so its samples mean nothing.")
    return 0


def _unread(tally: _Tally) -> str:
    """What of a run could not be read, and where."""
    much = "" if tally.described else "nothing of this run could be read: "
    more = f"; and {tally.troubles - 1} more, which the lines of the kind mark tell" if tally.troubles > 1 else ""
    return f"{much}{tally.trouble}{more}"


def _calibrations(which: str, source: str, data: str | None) -> Calibrations | None:
    """What takes the place of the calibrations in the run, None: nothing does. Raises ConfigError of a refused file."""
    if which != "today":
        return None if which == "then" else {}
    beside = Path(source).absolute().parent.parent  # a run lies in its data folder
    folder = Path(data) if data else beside if (beside / "runs").is_dir() else default_data_folder()
    files = CalibrationFiles(folder / "calibration")
    files.load()
    for refusal in files.refused.values():
        raise refusal
    return files.all()


def _lines(source: str, rig: str | None, calibrations: Calibrations | None, tally: _Tally) -> Iterator[str]:
    settings = RigSettings("read")
    if rig is not None:
        text = parse_rig(settings_text(Path(rig)), rig, Path(rig).stem)
        check_motor(text)
        settings = text.settings
    if source != "-" and Path(source).is_dir():
        if not segments(Path(source)):
            raise FileNotFoundError(None, "there is no recording in this folder", source)
        yield from _run_lines(Path(source), settings if rig is not None else None, calibrations, tally)
        return
    pipeline = Pipeline(settings)
    for calibration in (calibrations or {}).values():
        pipeline.calibrate(calibration, time())
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


def _run_lines(
    run: Path, settings: RigSettings | None, calibrations: Calibrations | None, tally: _Tally
) -> Iterator[str]:
    replay = Replay(run, settings, calibrations)
    for played in replay:
        if played.entry is None:
            tally.trouble = tally.trouble or played.trouble.rstrip(".")
            tally.troubles += 1
            yield mark_line(played.trouble)
            continue
        if played.entry.kind in (Kind.MARK, Kind.CLOSE):
            yield mark_line(played.entry.text, played.entry.utc_s)
        if played.entry.kind is Kind.CALIBRATION and calibrations is None:
            yield mark_line(_holds(played.entry.text), played.entry.utc_s)
        if played.output is None:
            continue
        tally.bytes_read += len(played.entry.payload)
        tally.frames += played.output.frames
        for part in played.output.parts:
            tally.described |= part.described is not None
            yield from lines_of(part, part.clock)


def _holds(text: str) -> str:
    """What a calibration of the run says, in a line."""
    its = parse_calibration(text, "calibration of the run")
    said = [f"{each.what} of {each.channel.words} of {each.day} against {each.reference}" for each in its.entries]
    return f"Calibration of board {its.serial}: {'; '.join(said) or 'none holds any more'}"


def _fail(sentence: str) -> int:
    say(f"slipring: {sentence}")
    return 1
