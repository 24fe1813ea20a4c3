"""`slipring report`: what a recorded run came to, as a page of HTML or as PDF."""

import os
from argparse import Namespace
from pathlib import Path

from server.commands.export import Progress, or_told, run_folder
from server.commands.options import Parser, add_data
from server.report.make import Form, make
from server.runs.in_child import NICE

EXAMPLES = """\
examples:
  slipring report 20261125-1402-heron-1
  slipring report 20261125-1402-heron-1 --html morning.html --paper letter
"""


def main(arguments: list[str]) -> int:
    """Exit code: 0 done, 1 it could not be, 2 mistyped."""
    parser = Parser(
        "report", "Write the report of a recorded run: the answer on its first page, then what it rests on."
    )
    parser.epilog = EXAMPLES
    parser.add_argument("run", metavar="RUN", help="a run's folder, or its name in the data folder")
    form = parser.add_mutually_exclusive_group()
    form.add_argument("--pdf", metavar="FILE", help="as PDF into this file (RUN-report.pdf); nothing is written over")
    form.add_argument("--html", metavar="FILE", help="as one page of HTML that needs nothing but itself")
    parser.add_argument("--paper", choices=("a4", "letter"), default="a4", help="which paper (a4)")
    again = "compute all of it again from the samples, by this version, though the run's log has it"
    parser.add_argument("--again", action="store_true", help=again)
    add_data(parser)
    chosen = parser.parse_args(arguments)
    return or_told(lambda: _done(chosen), chosen.run)


def _done(chosen: Namespace) -> int:
    run = run_folder(chosen.run, chosen.data)
    form: Form = "html" if chosen.html else "pdf"
    target = Path(chosen.html or chosen.pdf or f"{run.name}-report.pdf")
    if hasattr(os, "nice"):
        os.nice(NICE)  # a service on this PC that records comes first
    make(run, form, chosen.paper, target, Progress().tell, chosen.again)
    print(target)
    return 0
