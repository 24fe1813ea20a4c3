"""`slipring receive`: a run that was sent as one file, taken in among the runs of this PC."""

from pathlib import Path

from server.commands.asking import data_folder
from server.commands.options import Parser, add_data
from server.commands.streams import say
from server.data_folder import give_to_owner
from server.runs.parcel import ParcelError, ThereAlreadyError, receive

EXAMPLES = """\
examples:
  slipring receive 20261125-1402-heron-1.slipring
  slipring receive "from the workshop.slipring" --data ~/bench
"""


def main(arguments: list[str]) -> int:
    """Exit code: 0 done, 1 it could not be, 2 mistyped."""
    parser = Parser(
        "receive", "Take a run in that slipring send wrote: its checksums are compared, nothing is replaced."
    )
    parser.epilog = EXAMPLES
    parser.add_argument("file", metavar="FILE", help="the file that was sent")
    parser.add_argument("--copy", action="store_true", help="though this run is there already: as a second one")
    add_data(parser)
    chosen = parser.parse_args(arguments)
    file = Path(chosen.file)
    data = data_folder(chosen.data)
    try:
        run = receive(file, data / "runs", chosen.copy)
        give_to_owner(data)
    except ThereAlreadyError as error:
        say(f"slipring: {file} was not taken in: {error}; --copy takes it in as a second one, under another name.")
        return 1
    except ParcelError as error:
        say(f"slipring: {file} was not taken in: {error}; {error.instead}.")
        return 1
    except OSError as error:
        say(f"slipring: {error.filename or file} cannot be read or written: {error.strerror or error}.")
        return 1
    print(run)
    say("A service that is running lists it at once; slipring read plays it now.")
    return 0
