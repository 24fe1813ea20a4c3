"""The options of each command. A mistyped one gets the nearest right one."""

import argparse
import re
from collections.abc import Callable, Iterable
from difflib import get_close_matches
from typing import NoReturn

PORT = 8420
_THAT = "that of the service that holds the data folder"
CHECK_S_MAX = 600.0  # all that a board says is kept until it is judged


def nearest(word: str, known: Iterable[str]) -> str:
    """The question whether another word was meant; empty if none is near."""
    near = get_close_matches(word, list(known), n=1, cutoff=0.5)
    return f"did you mean {near[0]}?" if near else ""


class Parser(argparse.ArgumentParser):
    """argparse in our words."""

    def __init__(self, command: str, description: str) -> None:
        super().__init__(prog=f"slipring {command}", description=description, allow_abbrev=False)

    def error(self, message: str) -> NoReturn:
        unknown = re.match(r"unrecognized arguments: (\S+)", message)
        if unknown:
            options = [name for action in self._actions for name in action.option_strings]
            instead = nearest(unknown[1], options) or f"{self.prog} --help tells what it knows."
            message = f"there is no option {unknown[1]}; {instead}"
        choice = re.match(r"argument \S+: invalid choice: '(.*?)' \(choose from (.*)\)", message)
        if choice and (instead := nearest(choice[1], re.split(", ", choice[2].replace("'", "")))):
            message = f"{message}; {instead}"
        self.exit(2, f"{self.prog}: {message}\n")


def serve() -> Parser:
    parser = Parser("serve", "Start the service and its page. Ctrl-C ends it and all that it started.")
    parser.add_argument("--demo", action="store_true", help="start two motors of the demo bench (software boards)")
    parser.add_argument(
        "--demo-motor",
        action="append",
        type=_motor_and_story,
        default=[],
        metavar="MOTOR[:STORY]",
        help="start this one, or one story of it; repeatable",
    )
    parser.add_argument(
        "--rig",
        action="append",
        type=_rig_and_url,
        default=[],
        metavar="NAME=URL",
        help="a rig and its port: a device, DEVICE@BAUD or socket://HOST:PORT; may be given more than once",
    )
    _add_look(parser)
    parser.add_argument("--port", type=_page_port, default=PORT, help=f"port of the page on this computer ({PORT})")
    parser.add_argument("--open", action="store_true", help="open the page in the browser")
    _add_bench_network(parser)
    add_data(parser)
    return parser


def follow() -> Parser:
    parser = Parser("follow", "Print live readings, states and events as JSON lines, until Ctrl-C.")
    parser.add_argument("--rig", metavar="NAME", default="", help="which rig (the one that the page opens on)")
    _add_address(parser)
    add_data(parser)
    return parser


def calibrate() -> Parser:
    parser = Parser("calibrate", "Calibrate a channel of a watched board, question by question: zero, gain or angle.")
    parser.add_argument("--rig", metavar="NAME", default="", help="which rig, where there are several")
    doing = parser.add_mutually_exclusive_group()
    doing.add_argument("--list", action="store_true", help="print how each channel is calibrated, and ask nothing")
    doing.add_argument("--undo", nargs=2, metavar=("WHAT", "CHANNEL"), help="take the newest back, such as gain 1")
    parser.add_argument("--json", action="store_true", help="JSON lines instead of a table, with --list")
    _add_address(parser)
    add_data(parser)
    return parser


def ports() -> Parser:
    parser = Parser("ports", "List the serial ports of this computer and what each says when it is asked who it is.")
    parser.add_argument("--json", action="store_true", help="JSON lines instead of a table")
    _add_look(parser)
    return parser


def demo_motors() -> Parser:
    parser = Parser("demo-motors", "List the motors of the demo bench (software boards) and their stories.")
    parser.add_argument("--json", action="store_true", help="JSON lines instead of a table")
    return parser


def token() -> Parser:
    parser = Parser("token", "Print the path of the file that holds the token for scripts that change something.")
    add_data(parser)
    return parser


def link() -> Parser:
    parser = Parser("link", "Print a new link that opens the page of the running service once, within an hour.")
    _add_port(parser)
    add_data(parser)
    return parser


def sessions() -> Parser:
    parser = Parser("sessions", "List the browsers and paired devices that may come in, or end one.")
    parser.add_argument("--end", type=int, metavar="NUMBER", help="end this one: its sockets close at once")
    parser.add_argument("--json", action="store_true", help="JSON lines instead of a table")
    _add_port(parser)
    add_data(parser)
    return parser


def notify() -> Parser:
    parser = Parser("notify", "List where alarms are sent to and how it goes, or send a test message.")
    parser.add_argument("doing", choices=("list", "test"), help="list all receivers, or test one")
    parser.add_argument("name", nargs="?", help="which receiver, as notify.toml names it")
    parser.add_argument("--json", action="store_true", help="JSON lines instead of sentences")
    _add_port(parser)
    add_data(parser)
    return parser


def plan() -> Parser:
    parser = Parser("plan", "Print how the test on a rig stands: pass (0), fail (exit code 3) or undecided (4).")
    parser.add_argument("rig", metavar="RIG", help="the name of the rig")
    doing = parser.add_mutually_exclusive_group()
    doing.add_argument("--set", metavar="FILE", help="test by this plan from now on (server/test_plan/PLAN.md)")
    doing.add_argument("--remove", action="store_true", help="put the plan away; runs stay as they are")
    parser.add_argument("--json", action="store_true", help="one JSON line instead of words")
    _add_port(parser)
    add_data(parser)
    return parser


def backup() -> Parser:
    parser = Parser("backup", "Keep all settings (rigs, calibrations, plans) in one file; no recordings.")
    parser.add_argument("file", metavar="FILE", help="a file that is not there yet, such as slipring.zip")
    parser.add_argument("--with-secrets", action="store_true", help="with notify.toml: keep the file to yourself")
    add_data(parser)
    return parser


def restore() -> Parser:
    parser = Parser("restore", "Put settings of a backup back, while no service runs; what is replaced is kept.")
    parser.add_argument("file", metavar="FILE", help="what slipring backup has made")
    parser.add_argument("--look", action="store_true", help="print what would be done, and do nothing")
    add_data(parser)
    return parser


def unit() -> Parser:
    parser = Parser("unit", "Print the systemd unit that keeps the service running on a PC that is always on.")
    parser.add_argument("--install", action="store_true", help="write it to /etc/systemd/system instead")
    parser.add_argument("serve", nargs="*", help="options of slipring serve, behind --", metavar="OPTION")
    return parser


def check_board() -> Parser:
    parser = Parser("check-board", "Talk to a board for a minute and say whether it does what SPEC.md asks.")
    which = parser.add_mutually_exclusive_group(required=True)
    which.add_argument("port", nargs="?", help="a device or socket://HOST:PORT")
    which.add_argument("--bytes", metavar="FILE", help="a file of wire bytes instead: what needs no answer")
    parser.add_argument("--baud", type=int, default=2_000_000, help="of a serial line (2000000)")
    parser.add_argument("--seconds", type=_seconds, default=60.0, help="how long the board streams at full rate (60)")
    parser.add_argument("--listen", action="store_true", help="send nothing: a board without a receive line")
    parser.add_argument("--json", action="store_true", help="JSON lines instead of a table")
    parser.add_argument("--report", metavar="FILE", help="keep the result in a file")
    return parser


OPTIONS: dict[str, Callable[[], Parser]] = {"serve": serve, "follow": follow, "ports": ports, "token": token}
OPTIONS |= {"calibrate": calibrate, "link": link, "sessions": sessions, "notify": notify, "unit": unit}
OPTIONS["check-board"] = check_board
OPTIONS |= {"plan": plan, "backup": backup, "restore": restore}
OPTIONS["demo-motors"] = demo_motors


def _add_bench_network(parser: Parser) -> None:
    parser.add_argument(
        "--bench-network",
        metavar="IP",
        help="serve paired devices at this address of the PC",
    )
    parser.add_argument("--certificate", metavar="FILE", help="encrypt with this certificate, PEM (one is made)")
    parser.add_argument("--key", metavar="FILE", help="its key, PEM, without a password")
    parser.add_argument("--not-encrypted", action="store_true", help="no encryption there: anybody can read along")


def _add_port(parser: Parser) -> None:
    parser.add_argument("--port", type=_page_port, help=f"port of the service on this computer ({_THAT})")


def _add_address(parser: Parser) -> None:
    where = parser.add_mutually_exclusive_group()
    where.add_argument("--url", help=f"address of the service, such as http://127.0.0.1:{PORT} ({_THAT})")
    where.add_argument("--port", type=_page_port, help="its port on this computer, instead of an address")


def _add_look(parser: Parser) -> None:
    text = "which ports may be asked for a board, such as '/dev/ttyACM*'; may be given more than once (all)"
    parser.add_argument("--look", action="append", default=[], metavar="PATTERN", help=text)


def add_data(parser: Parser) -> None:
    """The folder of everything that the service keeps."""
    text = "folder for settings and recordings; else slipring in your data folder ($XDG_DATA_HOME, ~/.local/share)"
    parser.add_argument("--data", metavar="DIR", help=text)


def _page_port(text: str) -> int:
    if not text.isdecimal() or int(text) > 65535:
        raise argparse.ArgumentTypeError(f'"{text}" is no port; write a number such as {PORT}.')
    return int(text)


def _seconds(text: str) -> float:
    try:
        seconds = float(text)
    except ValueError:
        seconds = 0.0
    if not 1.0 <= seconds <= CHECK_S_MAX:
        raise argparse.ArgumentTypeError(f'"{text}" is not between 1 and {CHECK_S_MAX:g} seconds.')
    return seconds


def _motor_and_story(text: str) -> tuple[str, str]:
    motor, _, story = text.partition(":")
    return motor.strip(), story.strip()


def _rig_and_url(text: str) -> tuple[str, str]:
    from server.config import ConfigError
    from server.settings.text import check_name

    name, found, url = text.partition("=")
    if not (found and name and url):
        raise argparse.ArgumentTypeError(f'"{text}" names no rig and port; write --rig bench=/dev/ttyACM0.')
    try:
        check_name(name)
    except ConfigError as error:
        raise argparse.ArgumentTypeError(str(error)) from None
    return name, url
