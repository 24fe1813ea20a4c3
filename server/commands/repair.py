"""`slipring repair`: what of a run cannot be read, fresh segments of what can, and its log made again from them."""

import json
import sqlite3
from datetime import UTC, datetime
from pathlib import Path

from server.commands.export import run_folder
from server.commands.options import Parser, add_data
from server.commands.streams import say
from server.data_folder import give_to_owner
from server.export import ExportError
from server.runs.log.remake import broken_log, make_log
from server.runs.log.store import ASIDE, LOG
from server.runs.repair import Damaged, damaged_segments, repair
from server.runs.segments import segments
from server.runs.thinned_run import is_thinned

EXAMPLES = """\
examples:
  slipring repair 20261125-1402-heron-1
  slipring repair 20261125-1402-heron-1 --do
"""


def main(arguments: list[str]) -> int:
    """Exit code: 0 nothing is damaged, or all was repaired; 1 there is damage, or it failed; 2 mistyped."""
    parser = Parser(
        "repair",
        "Say what of a run cannot be read; with --do, put a segment of what can in its place, and make its log again.",
    )
    parser.epilog = EXAMPLES
    parser.add_argument("run", metavar="RUN", help="a run's folder, or its name in the data folder")
    parser.add_argument("--do", action="store_true", help="repair it; damaged files are kept beside, none is deleted")
    parser.add_argument("--json", action="store_true", help="JSON lines instead of sentences")
    add_data(parser)
    chosen = parser.parse_args(arguments)
    try:
        run = run_folder(chosen.run, chosen.data)
        try:
            return _done(run, chosen.do, chosen.json)
        finally:
            if chosen.do:
                give_to_owner(run)
    except ExportError as error:
        say(f"slipring: {error}.")
    except OSError as error:
        say(f"slipring: {error.filename or chosen.run} cannot be read or written: {error.strerror or error}.")
    except sqlite3.Error as error:
        say(f"slipring: {Path(chosen.run) / LOG} cannot be read or written now: {error}; try again later.")
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
        say(f"{open_one.name} was not looked at: the run is open, and it may be written to now. Nor was {LOG}.")
    log = "" if open_one is not None else broken_log(run)
    left = bool(log) and not _log_made(run, log, do, as_json)
    if not damaged and not log:
        say("Nothing is damaged.")
    elif not do:
        instead = "a segment of what can be read in the place of each" if damaged else "a log made again in its place"
        say(f"Nothing was changed. --do puts {instead}; nothing is deleted.")
    return 1 if left or (damaged and not do) else 0


def _log_made(run: Path, broken: str, do: bool, as_json: bool) -> bool:
    """Whether a broken log was made again; it is told either way."""
    can_be_made = not is_thinned(run)
    made_of = (
        "it can be made again from the samples" if can_be_made else "it cannot be made again: samples were thinned"
    )
    record = {"file": LOG, "broken": broken, "can_be_made_again": can_be_made}
    print(json.dumps(record) if as_json else f"{LOG}: {broken}; {made_of}.")
    if not can_be_made:
        say("It stays as it is: what of it can be read is all that is known of the thinned samples.")
    if not (do and can_be_made):
        return False
    there = set(run.glob(ASIDE.format("*")))
    make_log(run, was_broken=True)
    asides = set(run.glob(ASIDE.format("*"))) - there
    say(f"Made again; the broken one is kept as {', '.join(each.name for each in asides)}.")
    return True


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
