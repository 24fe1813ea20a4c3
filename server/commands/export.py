"""`slipring export`: a recorded run as a file that other programs read."""

import os
import sys
import time
from argparse import ArgumentTypeError, Namespace
from collections.abc import Callable
from datetime import UTC, datetime
from math import inf
from pathlib import Path

from server.commands.options import Parser, add_data
from server.commands.run_named import run_named
from server.commands.streams import say
from server.export import EXPORTS, ExportError, Wanted
from server.export.make import estimate, export_named, make
from server.export.readings import source_words
from server.runs.in_child import NICE

SHOWN_AFTER_S = 2.0  # nobody wants to be told how far it is of what is done at once
SHOWN_EVERY_S = 0.5
EXAMPLES = """\
examples:
  slipring export 20261125-1402-heron-1 --as csv
  slipring export 20261125-1402-heron-1 --as npz --what waveforms --from 14:05 --to 14:07 --out start.npz
  slipring export 20261125-1402-heron-1 --as parquet --what waveforms --estimate
"""


def main(arguments: list[str]) -> int:
    """Exit code: 0 done, 1 it could not be, 2 mistyped."""
    parser = Parser("export", "Write readings or waveforms of a recorded run as a file for other programs.")
    parser.epilog = EXAMPLES
    parser.add_argument("run", metavar="RUN", help="a run's folder, or its name in the data folder")
    parser.add_argument("--as", dest="format", required=True, choices=[each.key for each in EXPORTS])
    parser.add_argument("--what", choices=("readings", "waveforms"), help="readings where the format holds both")
    text = "UTC, such as 2026-11-25T14:05:16Z, or a time alone within a day of the run's beginning"
    parser.add_argument("--from", dest="since", metavar="TIME", type=_time, help=f"from when: {text}")
    parser.add_argument("--to", metavar="TIME", type=_time, help="until when")
    parser.add_argument("--group", type=int, help="which group of evenly sampled channels (that of the highest rate)")
    again = "compute the readings again from the samples, by this version, though the run's log has them"
    parser.add_argument("--again", action="store_true", help=again)
    parser.add_argument("--out", metavar="FILE", help="which file; nothing is written over (RUN and what it is)")
    parser.add_argument("--estimate", action="store_true", help="say how large it would be, and make nothing")
    add_data(parser)
    chosen = parser.parse_args(arguments)
    return or_told(lambda: _done(chosen), chosen.run)


def or_told(doing: Callable[[], int], run: str) -> int:
    """The exit code of what makes a file of a run; where it could not be made, 1 and a sentence."""
    try:
        return doing()
    except ExportError as error:
        say(f"slipring: {error}.")
    except OSError as error:
        say(f"slipring: {error.filename or run} cannot be read or written: {error.strerror or error}.")
    return 1


def _done(chosen: Namespace) -> int:
    run = run_folder(chosen.run, chosen.data)
    export = next(each for each in EXPORTS if each.key == chosen.format)
    what = chosen.what or export.whats[0]
    since, to = (_utc_s(each, run.name) for each in (chosen.since, chosen.to))
    wanted = Wanted(what, -inf if since is None else since, inf if to is None else to, chosen.group, chosen.again)
    export_named(export.key, wanted)
    if hasattr(os, "nice"):
        os.nice(NICE)  # a service on this PC that records comes first
    if chosen.estimate:
        told = estimate(run, export.key, wanted)
        print(f"{'' if told.whole else 'about '}{told.bytes / 1e6:.3g} MB")
        return 0
    target = Path(chosen.out) if chosen.out else Path(f"{run.name}-{what}{export.suffix}")
    size = make(run, export.key, wanted, target, Progress().tell)
    print(target)
    say(f"{size / 1e6:.3g} MB of {what}, {export.label}. {source_words(run, wanted)}".rstrip())
    return 0


def run_folder(given: str, data: str | None) -> Path:
    """Raises ExportError where there is no such run."""
    run = run_named(given, data)
    if run is None:
        raise ExportError(f'there is no run "{given}"; give its folder, or its name and the data folder with --data')
    return run


class Progress:
    """A line on standard error that is written over, on a terminal alone."""

    def __init__(self) -> None:
        self._begun_s = self._told_s = time.monotonic()

    def tell(self, share: float) -> None:
        now_s = time.monotonic()
        if now_s - self._begun_s < SHOWN_AFTER_S or now_s - self._told_s < SHOWN_EVERY_S:
            return
        self._told_s = now_s
        if sys.stderr.isatty():
            print(f"\r{share:4.0%} ", end="", file=sys.stderr, flush=True)
        else:
            say(f"{share:.0%}")


def _time(text: str) -> datetime | str:
    try:
        if "T" not in text and " " not in text and ":" in text:
            datetime.strptime(text if text.count(":") == 2 else f"{text}:00", "%H:%M:%S")
            return text if text.count(":") == 2 else f"{text}:00"
        found = datetime.fromisoformat(text)
    except ValueError:
        raise ArgumentTypeError(f'"{text}" is no time; write 14:05:16 or 2026-11-25T14:05:16Z.') from None
    return found if found.tzinfo else found.replace(tzinfo=UTC)


def _utc_s(said: datetime | str | None, run_name: str) -> float | None:
    """A time alone is the first such one from the run's first minute on."""
    if said is None or isinstance(said, datetime):
        return None if said is None else said.timestamp()
    try:
        opened = datetime.strptime(run_name[:13], "%Y%m%d-%H%M").replace(tzinfo=UTC)
    except ValueError:
        raise ExportError(f"{run_name} does not say its day; write {said} with a date") from None
    at = datetime.combine(opened.date(), datetime.strptime(said, "%H:%M:%S").time(), UTC)
    return at.timestamp() + (86_400.0 if at < opened else 0.0)
