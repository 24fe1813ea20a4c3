"""The command line: says what there is, checks what was typed, starts one command.

Exit codes: 0 done, 1 failed, 2 mistyped, 130 interrupted. Standard output is data, standard error is talk.
Nothing heavy is imported before a command was chosen: --help and --version answer at once.
"""

import argparse
import re
import signal
import sys
from difflib import get_close_matches
from importlib import import_module
from types import FrameType
from typing import NoReturn

from server import VERSION

PORT = 8420
INTERRUPTED = 130
URL = f"http://127.0.0.1:{PORT}"
_EPILOG = """\
slipring COMMAND --help tells more. Examples:
  slipring serve --demo                    two motors of a demo bench
  slipring serve --rig bench=/dev/ttyACM0  a board at a port

Slipring watches, it does not protect: it is no safety device."""


_COMMANDS = (
    ("serve", "start the service and its page; Ctrl-C ends it"),
    ("read", "compute a run, a file or standard input; JSON lines"),
    ("follow", "print what a rig says now, as JSON lines"),
    ("ports", "list the serial ports and what each says"),
    ("token", "print where the token for scripts is"),
)


class _Parser(argparse.ArgumentParser):
    """argparse that names the nearest right word."""

    def error(self, message: str) -> NoReturn:
        choice = re.search(r"invalid choice: '([^']*)' \(choose from (.*)\)", message)
        if choice:
            known = re.findall(r"[\w-]+", choice[2])
            instead = _nearest(choice[1], known) or f"there are {', '.join(known)}."
            message = f"there is no command {choice[1]}; {instead}"
        if message.endswith("required: COMMAND"):
            message = "which command? slipring --help lists them."
        self.exit(2, f"slipring: {message}\n")

    def options(self) -> list[str]:
        return [name for action in self._actions for name in action.option_strings]


def _nearest(word: str, known: list[str]) -> str:
    near = get_close_matches(word, known, n=1, cutoff=0.5)
    return f"did you mean {near[0]}?" if near else ""


def _page_port(text: str) -> int:
    if not text.isdecimal() or int(text) > 65535:
        raise argparse.ArgumentTypeError(f'"{text}" is no port; write a number such as {PORT}.')
    return int(text)


def make_parser() -> tuple[_Parser, dict[str, _Parser]]:
    """The parser of all commands, and each command's own."""
    parser = _Parser(
        prog="slipring",
        description="Watches electric motors on a bench.",
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="version", version=f"slipring {VERSION}")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", required=True)
    own = {name: commands.add_parser(name, help=text, description=text, allow_abbrev=False) for name, text in _COMMANDS}
    serve, follow = own["serve"], own["follow"]
    serve.add_argument("--demo", action="store_true", help="start the motors of the demo bench (software boards)")
    rig = "a rig and its port: a device or socket://HOST:PORT; may be given again"
    serve.add_argument("--rig", action="append", default=[], metavar="NAME=URL", help=rig)
    serve.add_argument("--port", type=_page_port, default=PORT, help=f"port of the page on this computer ({PORT})")
    serve.add_argument("--open", action="store_true", help="open the page in the browser")
    for each in (serve, own["token"]):
        each.add_argument(
            "--data", metavar="DIR", help="folder for settings and recordings (your system's usual place)"
        )
    follow.add_argument("--rig", metavar="NAME", default="", help="which rig (the first one)")
    follow.add_argument("--url", default=URL, help=f"address of the service ({URL})")
    own["ports"].add_argument("--json", action="store_true", help="JSON lines instead of a table")
    return parser, own


def main(arguments: list[str] | None = None) -> int:
    """Run the command line; the exit code."""
    given = sys.argv[1:] if arguments is None else arguments
    try:
        if given[:1] == ["read"]:  # it has options of its own
            return int(import_module("server.commands.read").main(given[1:]))
        parser, own = make_parser()
        chosen, rest = parser.parse_known_args(given)
        if rest:
            known = own[chosen.command].options()
            instead = _nearest(rest[0], known) or f"slipring {chosen.command} --help tells what it knows."
            parser.error(f"{chosen.command} does not know {rest[0]}; {instead}")
        if chosen.command == "serve":  # while it is still being loaded; then it stops in order
            signal.signal(signal.SIGTERM, _leave)
        return int(import_module(f"server.commands.{chosen.command}").run(chosen))
    except KeyboardInterrupt:
        return INTERRUPTED


def _leave(number: int, frame: FrameType | None) -> None:
    raise SystemExit(0)


if __name__ == "__main__":
    sys.exit(main())
