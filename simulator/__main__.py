"""The command line of the software board: a motor of the bench or a recording, on a pty, a TCP port or in a file."""

import argparse
import errno
import os
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import BinaryIO

from simulator.board import Board
from simulator.lines import BoardLine, PtyLine, TcpLine
from simulator.nearest import WrongNameError
from simulator.player import player_board
from simulator.recording import RecordingError
from simulator.recordings import read_recording
from simulator.serve import Paced, end_with_standard_input

DESCRIPTION = """\
A sensor board in software: it speaks the wire of firmware_protocol/SPEC.md as a board on a motor
bench would, from a physical model or from a recording. On a line it runs in real time and prints
one thing, the address to open. It ends with Ctrl-C, or when the pipe on its standard input closes."""

EXAMPLES = """\
examples:
  python -m simulator motor cabin_ventilator
  python -m simulator bytes tender_thruster --story reversal --seconds 30 --out reversal.wire

Recordings: simulator/PLAYER.md says what to write beside a file."""

BYTES_STEP_S = 0.5  # board time written at once


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
    except (WrongNameError, RecordingError, ModuleNotFoundError, OSError) as error:
        print(f"simulator: {error}", file=sys.stderr)
        return 2
    return 0


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m simulator",
        description=DESCRIPTION,
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    commands = parser.add_subparsers(metavar="COMMAND", required=True)
    motor = commands.add_parser("motor", help="a motor of the bench in real time")
    _add_motor(motor)
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
    commands.add_parser("list", help="the motors of the bench and their stories").set_defaults(do=_list)
    return parser


def _seconds(text: str) -> float:
    seconds = float(text)
    if not 0.0 < seconds < float("inf"):
        raise argparse.ArgumentTypeError(f"{text}: write more than 0 seconds")
    return seconds


def _add_motor(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("motor", metavar="MOTOR")
    parser.add_argument("--story", metavar="NAME", help="one story over and over (default: all in turn)")
    parser.add_argument("--seed", type=int, default=0, help="another board of the same make (default: 0)")
    parser.add_argument("--serial", default="HB-0001", help="serial number of the board (default: HB-0001)")


def _motor(options: argparse.Namespace) -> None:
    from simulator.bench import bench_board  # here and below: the models need a compiler, the player does not

    board = bench_board(options.motor, options.seed, story=options.story, serial=options.serial, boot=boot_number())
    end_with_standard_input()
    line = _line(options.tcp)
    paced = _paced(board, line)  # before the address is told: the first stretch may have to be compiled
    print(line.url, flush=True)
    paced.run()


def _play(options: argparse.Namespace) -> None:
    recording = read_recording(options.file, options.description)
    board = player_board(recording, loop=options.loop, boot=boot_number())
    end_with_standard_input()
    line = _line(options.tcp)
    paced = _paced(board, line)
    print(line.url, flush=True)
    paced.begin_when_opened()
    paced.run()


def boot_number() -> int:
    """Something that grows from start to start, without a file to keep it in."""
    return int(time.time()) & 0xFFFF_FFFF


def _paced(board: Board, line: BoardLine) -> Paced:
    return Paced(board, line, lambda text: print(f"simulator: {text}", file=sys.stderr, flush=True))


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
    from simulator.bench import bench_board

    board = bench_board(options.motor, options.seed, story=options.story, serial=options.serial)
    if options.out == "-":
        _write(board, options.seconds, sys.stdout.buffer)
        return
    with open(options.out, "wb") as file:
        _write(board, options.seconds, file)


def _write(board: Board, seconds: float, file: BinaryIO) -> None:
    left_s = seconds
    while left_s > 0:
        file.write(board.step(min(BYTES_STEP_S, left_s)))
        left_s -= BYTES_STEP_S
    file.flush()


def _list(_: argparse.Namespace) -> None:
    from simulator.bench import BENCH

    for motor in BENCH:
        print(f"{motor.key}  ({motor.name}, {motor.type.replace('_', ' ')})")
        for story in motor.stories:
            print(f"    --story {story.name!r}, {story.duration_s:g} s: {story.description}")


if __name__ == "__main__":
    sys.exit(main())
