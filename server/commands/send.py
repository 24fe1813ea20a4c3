"""`slipring send`: a recorded run as one file, for another PC."""

from pathlib import Path

from server.commands.export import run_folder
from server.commands.options import Parser, add_data
from server.commands.streams import say
from server.export import ExportError
from server.runs.parcel import SUFFIX, ParcelError, send

EXAMPLES = """\
examples:
  slipring send 20261125-1402-heron-1
  slipring send 20261125-1402-heron-1 "for the workshop.slipring"
"""


def main(arguments: list[str]) -> int:
    """Exit code: 0 done, 1 it could not be, 2 mistyped."""
    parser = Parser("send", "Write a recorded run, its notes and checks into one file that slipring receive takes in.")
    parser.epilog = EXAMPLES
    parser.add_argument("run", metavar="RUN", help="a run's folder, or its name in the data folder")
    parser.add_argument("file", metavar="FILE", nargs="?", help=f"which file (RUN{SUFFIX}); nothing is written over")
    add_data(parser)
    chosen = parser.parse_args(arguments)
    try:
        run = run_folder(chosen.run, chosen.data)
        target = Path(chosen.file or f"{run.name}{SUFFIX}")
        size = send(run, target)
    except (ExportError, ParcelError) as error:
        say(f"slipring: {error}.")
        return 1
    except OSError as error:
        say(f"slipring: {error.filename or chosen.run} cannot be read or written: {error.strerror or error}.")
        return 1
    print(target)
    say(f"{size / 1e6:.3g} MB; slipring receive takes it in on another PC.")
    return 0
