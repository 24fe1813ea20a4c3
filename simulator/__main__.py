"""The command line of the software board: a motor of the bench or a recording, on a pty, a TCP port or in a file."""

import argparse
import errno
import json
import os
import sys
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import ExitStack
from pathlib import Path
from textwrap import fill
from typing import TYPE_CHECKING

from simulator.board import Board
from simulator.faults import FAULTS
from simulator.lines import BoardLine, PtyLine, TcpLine
from simulator.nearest import WrongNameError
from simulator.on_the_way import OnTheWay, damage_of
from simulator.player import player_board
from simulator.recording import RecordingError
from simulator.recordings import read_recording
from simulator.serve import Paced, end_with_standard_input
from simulator.story_error import StoryError

if TYPE_CHECKING:
    from simulator.bench import BenchMotor
    from simulator.teaching import Teaching

DESCRIPTION = """\
A sensor board in software: it speaks the wire of firmware_protocol/SPEC.md as a board on a motor
bench would, from a physical model or from a recording. On a line it runs in real time and prints
one thing, the address to open. It ends with Ctrl-C, or when the pipe on its standard input closes."""

EXAMPLES = """\
examples:
  python -m simulator motor cabin_ventilator
  python -m simulator bytes tender_thruster --story reversal --seconds 30 --out reversal.wire
  python -m simulator motor bilge_pump --stories mine.yaml --pace 0.5
  python -m simulator bytes slipway_pump --damage flipped=0.001 --out pump.wire --truth pump.jsonl

How to write stories: simulator/STORIES.md; what to write beside a recording: simulator/PLAYER.md.
Kinds of damage: {kinds}."""

SERIAL_BYTES_MAX = 60
BYTES_STEP_S = 0.1  # board time written at once


def main(arguments: Sequence[str] | None = None) -> int:
    """Returns the exit status: 2 for a wrong name, file or port, with a sentence that says what to do."""
    options = _parser().parse_args(arguments)
    do: Callable[[argparse.Namespace], None] = options.do
    try:
        do(options)
    except KeyboardInterrupt:
        return 0
    except BrokenPipeError:  # who read our output has enough; the interpreter shall not try again at its end
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except OSError as error:
        where = f"{error.filename}: {error.strerror}" if error.filename and error.strerror else str(error)
        print(f"simulator: {where}", file=sys.stderr)
        return 2
    except (WrongNameError, StoryError, RecordingError, ModuleNotFoundError) as error:
        print(f"simulator: {error}", file=sys.stderr)
        return 2
    return 0


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m simulator",
        description=DESCRIPTION,
        epilog=EXAMPLES.format(kinds=fill(", ".join(FAULTS), 80)),
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    commands = parser.add_subparsers(metavar="COMMAND", required=True)
    motor = commands.add_parser("motor", help="a motor of the bench in real time")
    _add_motor(motor)
    motor.add_argument(
        "--pace", type=_pace, default=1.0, metavar="X", help="board seconds in a second, or max: as fast as it is read"
    )
    motor.set_defaults(do=_motor)
    play = commands.add_parser("play", help="a recording in real time: .npz, .wav or .csv with its description")
    play.add_argument("file", type=Path, metavar="FILE")
    play.add_argument("--description", type=Path, metavar="FILE", help="default: FILE with the ending .toml")
    play.add_argument("--loop", action="store_true", help="begin again at the end")
    play.set_defaults(do=_play)
    for real_time in (motor, play):
        real_time.add_argument("--tcp", type=int, metavar="PORT", help="TCP instead of a pty; 0 takes any free port")
    to_file = commands.add_parser("bytes", help="the wire bytes of a motor in a file, as fast as they come")
    _add_motor(to_file)
    to_file.add_argument("--seconds", type=_seconds, default=10.0, help="board time (default: 10)")
    to_file.add_argument("--out", required=True, metavar="FILE", help="- for standard output")
    to_file.set_defaults(do=_bytes)
    controls = commands.add_parser("controls", help="what a story of a motor can change")
    controls.add_argument("motor", metavar="MOTOR")
    controls.set_defaults(do=_controls)
    listing = commands.add_parser("list", help="the motors of the bench and their stories")
    listing.add_argument("--json", action="store_true", help="for programs")
    listing.set_defaults(do=_list)
    compiling = commands.add_parser("compile", help="the models of all motors, so that none starts slowly")
    compiling.set_defaults(do=_compile)
    return parser


def _seconds(text: str) -> float:
    seconds = float(text)
    if not 0.0 < seconds < float("inf"):
        raise argparse.ArgumentTypeError(f"{text}: write more than 0 seconds")
    return seconds


def _add_motor(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("motor", metavar="MOTOR")
    parser.add_argument("--story", metavar="NAME", help="one story over and over (default: all in turn)")
    parser.add_argument("--stories", type=Path, metavar="FILE", help="stories of your own instead of the bench's")
    parser.add_argument(
        "--damage",
        type=_damage,
        default={},
        metavar="KIND=CHANCE,...",
        help="chances that a frame is struck on the wire",
    )
    parser.add_argument("--truth", type=Path, metavar="FILE", help="what really happened, as JSON lines")
    parser.add_argument("--seed", type=_seed, default=0, help="another board of the same make (default: 0)")
    parser.add_argument(
        "--serial", type=_serial, default="HB-0001", help="serial number of the board (default: HB-0001)"
    )


def _pace(text: str) -> float:
    if text == "max":
        return float("inf")
    try:
        pace = float(text)
    except ValueError:
        pace = 0.0
    if not 0.001 <= pace <= 1000.0:
        raise argparse.ArgumentTypeError(f"{text}: write a number from 0.001 to 1000, or max")
    return pace


def _damage(text: str) -> dict[str, float]:
    try:
        return damage_of(text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(str(error)) from None


def _seed(text: str) -> int:
    if not text.isdecimal():
        raise argparse.ArgumentTypeError(f"{text}: write a whole number from 0 on")
    return int(text)


def _serial(text: str) -> str:
    if not (0 < len(text.encode()) <= SERIAL_BYTES_MAX and text.isprintable()):
        raise argparse.ArgumentTypeError(f"write 1 to {SERIAL_BYTES_MAX} letters and digits")
    return text


def _board(options: argparse.Namespace, open_files: ExitStack, boot: int = 1) -> tuple[Board, OnTheWay, "Teaching"]:
    """The board, what happens to its bytes on the way to the line, and what a person may tell it."""
    from simulator.bench import bench_motor, bench_source, taught, with_stories  # the player needs no compiler

    motor = bench_motor(options.motor)
    if options.stories is not None:
        motor = with_stories(motor, options.stories)
    teaching = taught(motor)
    truthful = options.truth is not None
    source = bench_source(motor, options.seed, story=options.story, truth=truthful, teaching=teaching)
    board = Board(source, options.seed, serial=options.serial, boot=boot)
    truth = options.truth and open_files.enter_context(options.truth.open("w", encoding="utf-8"))
    way = OnTheWay(board, options.seed, lambda: options.damage or source.story.damage or {}, truth)
    return board, way, teaching


def _motor(options: argparse.Namespace) -> None:
    with ExitStack() as open_files:
        board, way, teaching = _board(options, open_files, boot_number())
        end_with_standard_input(teaching.tell)
        line = _line(options.tcp)
        # before the address is told: the first stretch may have to be compiled
        paced = Paced(board, line, _say, pace=options.pace, spoil=way.passed)
        print(line.url, flush=True)
        if options.pace == float("inf"):
            paced.rush()
        else:
            paced.run()


def _compile(_: argparse.Namespace) -> None:
    from simulator.bench import BENCH_KEYS, started_once

    with ProcessPoolExecutor() as pool:
        list(pool.map(started_once, BENCH_KEYS))


def _play(options: argparse.Namespace) -> None:
    recording = read_recording(options.file, options.description)
    board = player_board(recording, loop=options.loop, boot=boot_number())
    end_with_standard_input()
    line = _line(options.tcp)
    paced = Paced(board, line, _say)
    print(line.url, flush=True)
    paced.begin_when_opened()
    paced.run()


def boot_number() -> int:
    """Something that grows from start to start, without a file to keep it in."""
    return int(time.time()) & 0xFFFF_FFFF


def _say(text: str) -> None:
    print(f"simulator: {text}", file=sys.stderr, flush=True)


def _line(tcp_port: int | None) -> BoardLine:
    if tcp_port is None and os.name == "posix":
        return PtyLine()
    try:
        return TcpLine(tcp_port or 0)
    except (OSError, OverflowError) as error:
        if isinstance(error, OSError) and error.errno == errno.EADDRINUSE:
            why = "in use by another program"
        else:
            why = str(error)
        raise OSError(f"TCP port {tcp_port} cannot be opened: {why}; --tcp 0 takes any free one") from None


def _bytes(options: argparse.Namespace) -> None:
    if options.truth is not None and options.out != "-" and options.truth.absolute() == Path(options.out).absolute():
        raise WrongNameError(f"--out and --truth are both {options.out}; write another name for one")
    with ExitStack() as open_files:
        board, way, _ = _board(options, open_files)
        out = sys.stdout.buffer if options.out == "-" else open_files.enter_context(open(options.out, "wb"))
        left_s = options.seconds
        while left_s > 0:
            out.write(way.passed(board.step(min(BYTES_STEP_S, left_s))))
            left_s -= BYTES_STEP_S
        out.write(way.rest())
        out.flush()


def _list(options: argparse.Namespace) -> None:
    from simulator.bench import bench

    if options.json:
        print(json.dumps([_listed(motor) for motor in bench()]))
        return
    for motor in bench():
        print(f"{motor.key}  ({motor.name}: {motor.says})")
        for story in motor.stories:
            print(f"    --story {story.name!r}, {story.duration_s:g} s: {story.description}")


def _controls(options: argparse.Namespace) -> None:
    from dataclasses import asdict

    from simulator.bench import bench_motor
    from simulator.stories import MOTOR_FAULTS

    motor = bench_motor(options.motor)
    print(f"Controls of the {motor.name}: value at rest, lowest to highest")
    for control in motor.model.controls:
        usual = motor.at_rest[control.name]
        words = f"; 0 to {len(control.words) - 1} are {' | '.join(control.words)}" if control.words else ""
        print(f"  {control.name} = {usual:g}  ({control.lowest:g} to {control.highest:g}): {control.meaning}{words}")
    print("Parameters:", ", ".join(f"{name} = {value}" for name, value in asdict(motor.parameters).items()))
    print("Faults:", ", ".join(MOTOR_FAULTS))


def _listed(motor: "BenchMotor") -> dict[str, object]:
    stories = [{"name": one.name, "says": one.description, "lasts_s": one.duration_s} for one in motor.stories]
    return {"key": motor.key, "name": motor.name, "says": motor.says, "type": motor.type, "stories": stories}


if __name__ == "__main__":
    sys.exit(main())
