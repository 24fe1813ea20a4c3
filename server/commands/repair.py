"""`slipring repair`: what of a run cannot be read, and fresh segments of what can."""

import json
from datetime import UTC, datetime
from pathlib import Path

from server.commands.export import run_folder
from server.commands.options import Parser, add_data
from server.commands.streams import say
from server.export import ExportError
from server.runs.repair import Damaged, damaged_segments, repair
from server.runs.segments import segments

EXAMPLES = """\
examples:
  slipring repair 20261125-1402-heron-1
  slipring repair 20261125-1402-heron-1 --do
"""


def main(arguments: list[str]) -> int:
    """Exit code: 0 nothing is damaged, or all was repaired; 1 there is damage, or it failed; 2 mistyped."""
    parser = Parser("repair", "Say what of a run cannot be read; with --do, put a segment of what can in its place.")
    parser.epilog = EXAMPLES
    parser.add_argument("run", metavar="RUN", help="a run's folder, or its name in the data folder")
    parser.add_argument("--do", action="store_true", help="repair it; damaged files are kept beside, none is deleted")
    parser.add_argument("--json", action="store_true", help="JSON lines instead of sentences")
    add_data(parser)
    chosen = parser.parse_args(arguments)
    try:
        run = run_folder(chosen.run, chosen.data)
        return _done(run, chosen.do, chosen.json)
    except ExportError as error:
        say(f"slipring: {str(error)[:1].upper()}{str(error)[1:]}.")
    except OSError as error:
        say(f"slipring: {error.filename or chosen.run} cannot be read or written: {error.strerror or error}.")
    return 1


def _done(run: Path, do: bool, as_json: bool) -> int:
    if not segments(run):
        say(f"slipring: There is no recording in {run}; give the folder of a run.")
        return 1
    damaged, open_one = damaged_segments(run)
    for each in damaged:
        print(json.dumps(_record(each)) if as_json else _sentence(each))
        if do:
            say(f"Repaired; the damaged file is kept as {repair(each.path).name}.")
    if open_one is not None:
        say(f"{open_one.name} was not looked at: the run is open, and it may be written to now.")
    if not damaged:
        say("Nothing is damaged.")
    elif not do:
        say("Nothing was changed. --do puts a segment of what can be read in the place of each; none is deleted.")
    return 1 if damaged and not do else 0


def _record(each: Damaged) -> dict[str, object]:
    return {
        "segment": each.path.name,
        "unreadable_bytes": each.unreadable_bytes,
        "places": each.places,
        "readable_entries": each.readable,
        "behind_utc_s": each.behind_utc_s,
    }


def _sentence(each: Damaged) -> str:
    where = "from its beginning on"
    if each.behind_utc_s is not None:
        where = f"behind {datetime.fromtimestamp(each.behind_utc_s, UTC):%Y-%m-%d %H:%M:%S} UTC"
    places = f" in {each.places} places, the first" if each.places > 1 else ""
    much = f"{each.unreadable_bytes} bytes" if each.unreadable_bytes else "its index"
    return f"{each.path.name}: {much} cannot be read{places} {where}; {each.readable} entries can."
