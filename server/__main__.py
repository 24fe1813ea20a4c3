"""The command line: says what there is, checks what was typed, starts one command.

Exit codes: 0 done, 1 failed, 2 mistyped, 130 interrupted. Standard output is data, standard error is talk.
Nothing is imported before it is needed, not even the parser of options: --help and --version answer at once.
"""

import sys

from server import VERSION

COMMANDS = (
    "serve",
    "read",
    "export",
    "report",
    "send",
    "receive",
    "repair",
    "follow",
    "ports",
    "check-board",
    "calibrate",
    "demo-motors",
    "notify",
    "plan",
    "link",
    "sessions",
    "token",
    "unit",
    "backup",
    "restore",
)
INTERRUPTED = 130
HELP = """\
slipring COMMAND [OPTIONS]: watches electric motors on a bench.
Slipring watches, it does not protect: it is no safety device.
  serve     start the service and its page; Ctrl-C ends it
  read      compute a run, a file or standard input; JSON lines
  export    a run's readings or waveforms as CSV, Parquet, NumPy or FLAC
  report    what a run came to, as PDF or as a page to send
  send, receive   a run as one file, for another PC; and taken in there
  repair    what of a run cannot be read, and a fresh segment of what can
  follow    print what a rig says now, as JSON lines
  ports     list the serial ports and what each says
  check-board   talk to a board and say whether it does what SPEC.md asks
  calibrate     a channel's zero, gain or angle, guided; list, undo
  demo-motors   list the motors of the demo bench and their stories
  notify    where alarms are sent to, and a test of a receiver
  plan      how the test on a rig stands: pass, fail or undecided
  link      print a link that opens the page of a running service once
  sessions  list the browsers and devices that may come in, end one
  token     print where the token for scripts is
  unit      print the systemd unit that keeps the service running
  backup, restore   keep all settings in one file; put them back
  --help    this text; slipring COMMAND --help tells more; or --version
Examples:
  slipring serve --demo                    two motors of a demo bench
  slipring serve --rig bench=/dev/ttyACM0  a board at a port"""


def main(arguments: list[str] | None = None) -> int:
    """Run the command line; the exit code."""
    given = sys.argv[1:] if arguments is None else arguments
    first = given[0] if given else ""
    if first in ("--help", "-h", "help"):
        print(HELP)
        return 0
    if first == "--version":
        print(f"slipring {VERSION}")
        return 0
    try:
        if first not in COMMANDS:
            return _mistyped(first)
        return _run(first, given[1:])
    except KeyboardInterrupt:
        return INTERRUPTED


def _mistyped(first: str) -> int:
    from server.commands.options import nearest

    if not first:
        print("slipring: which command? slipring --help lists them.", file=sys.stderr)
        return 2
    kind, known = ("option", ("--help", "--version")) if first.startswith("-") else ("command", COMMANDS)
    instead = nearest(first, known) or f"there are {', '.join(known)}."
    print(f"slipring: there is no {kind} {first}; {instead}", file=sys.stderr)
    return 2


def _run(command: str, rest: list[str]) -> int:
    from server.commands import streams

    if sys.stdout is None and command != "serve":
        streams.say("slipring: standard output is closed, so nothing can be printed.")
        return 1
    streams.plug()
    try:
        code = _chosen(command, rest)
        streams.flush()
        return code
    except streams.OutputError as error:
        if str(error):
            streams.say(f"slipring: {error}")
        return 1 if str(error) else 0
    finally:
        streams.hush()


def _chosen(command: str, rest: list[str]) -> int:
    from importlib import import_module

    if command in ("read", "export", "report", "send", "receive", "repair"):  # they have options of their own
        return int(import_module(f"server.commands.{command}").main(rest))
    from server.commands.options import OPTIONS

    chosen = OPTIONS[command]().parse_args(rest)
    if command == "serve":
        _leave_quietly()
    return int(import_module(f"server.commands.{command.replace('-', '_')}").run(chosen))


def _leave_quietly() -> None:
    """A signal while the service is still being loaded ends it like one that has started.

    At once: an exception out of a handler can be lost in whatever code it interrupts, and nothing is to be stopped yet.
    """
    import os
    import signal

    def leave(number: int, frame: object) -> None:
        os._exit(INTERRUPTED if number == signal.SIGINT else 0)

    signal.signal(signal.SIGTERM, leave)
    signal.signal(signal.SIGINT, leave)


if __name__ == "__main__":
    sys.exit(main())
