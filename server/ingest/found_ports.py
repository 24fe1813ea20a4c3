"""Which serial ports this PC has, and what each says when it is asked who it is.

Opening a port can restart the board behind it, so a port that a rig uses is never asked, and another one once for as
long as it stays plugged in. Only Describe is sent: whatever hangs there is asked for its name, for at most ASK_S.
"""

import os
import time
from collections.abc import Collection, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from glob import glob
from pathlib import Path
from types import MappingProxyType

import serial
from serial.tools import list_ports

from firmware_protocol import Describe, encode_frame
from server.ingest.first_sight import FirstSight
from server.ingest.line import LineGoneError, open_line, place_of
from server.ingest.refusals import explain

ASK_S = 2.5  # a board that restarts when its port is opened is back by then
SILENT_AGAIN_S = 10.0  # what said nothing may have been without power
ASKED_AT_ONCE = 8
BAUD = 2_000_000  # as in a rig's settings where nobody wrote another
BY_ID = Path("/dev/serial/by-id")


@dataclass(frozen=True, slots=True)
class FoundPort:
    """`stable` is a name that survives plugging in again, or empty. `kind`: board, silent, other, refused, used."""

    port: str
    stable: str
    description: str
    kind: str
    says: str


@dataclass(frozen=True, slots=True)
class _Answer:
    """What a port said, in which life of it, and when."""

    plug: tuple[int, int]
    kind: str
    says: str
    at_s: float


class PortSearch:
    """The ports of this PC. `look`: patterns such as /dev/ttyACM* of the ports that may be asked; empty: all."""

    def __init__(self, look: Collection[str] = ()) -> None:
        self._look = tuple(look)
        self._answers: dict[str, _Answer] = {}

    def found(self, used: Mapping[str, str] = MappingProxyType({})) -> list[FoundPort]:
        """All ports, each asked unless it is in `used` (by which rig) or has answered; takes ASK_S and a little. Never
        raises."""
        described = _described_ports(self._look)
        self._answers = {port: answer for port, answer in self._answers.items() if port in described}
        taken = _real(used)
        with ThreadPoolExecutor(ASKED_AT_ONCE) as pool:
            answers = list(pool.map(lambda port: self._said(port, taken), described))
        named = _stable_names()
        return [
            FoundPort(port, named.get(os.path.realpath(port), ""), description, *answer)
            for (port, description), answer in zip(described.items(), answers, strict=True)
        ]

    def ask(self, port: str, used: Mapping[str, str]) -> FoundPort:
        """One port, whatever it said before; it is closed again before this returns. Never raises."""
        self._answers.pop(port, None)
        return FoundPort(port, "", "", *self._said(port, _real(used)))

    def _said(self, port: str, taken: Mapping[str, str]) -> tuple[str, str]:
        if rig := taken.get(os.path.realpath(place_of(port)[0])):
            self._answers.pop(port, None)
            return "used", f"in use by rig {rig} of this service"
        return self._known(port) or self._asked(port)

    def _known(self, port: str) -> tuple[str, str] | None:
        answer = self._answers.get(port)
        if answer is None or answer.plug != _plug(port):
            return None
        booting = answer.kind == "silent" and time.monotonic() - answer.at_s > SILENT_AGAIN_S
        return None if booting else (answer.kind, answer.says)

    def _asked(self, port: str) -> tuple[str, str]:
        plug = _plug(port)
        kind, says = ask(port)
        if kind != "refused":  # then nothing was opened, and it may be free the next time
            self._answers[port] = _Answer(plug, kind, says, time.monotonic())
        return kind, says


def _real(used: Mapping[str, str]) -> dict[str, str]:
    return {os.path.realpath(port): rig for port, rig in used.items()}


def _plug(port: str) -> tuple[int, int]:
    """Another one each time it is plugged in: the system makes a new node."""
    try:
        about = os.stat(port)
    except OSError:
        return 0, 0
    return about.st_dev, about.st_ino


def _described_ports(look: Collection[str]) -> dict[str, str]:
    """Name and description of each port, by name. A pattern also finds what the system does not list as a port."""
    listed = {info.device: _described(info.description) for info in list_ports.comports()}
    ports = {port for pattern in look for port in glob(pattern)} if look else listed
    return {port: listed.get(port, "") for port in sorted(ports)}


def ask(wanted: str) -> tuple[str, str]:
    """Kind and what to tell of it, for one port."""
    url, baud = place_of(wanted)
    try:
        line = open_line(url, baud or BAUD)
    except (OSError, ValueError, serial.SerialException) as error:
        _, text, detail = explain(error, url)
        return "refused", f"{text}. {detail}"
    sight = FirstSight(time.monotonic())
    try:
        line.write(encode_frame(Describe(), sequence=0))
        ends_s = sight.opened_s + ASK_S
        while sight.identity is None and (left_s := ends_s - time.monotonic()) > 0:
            sight.feed(line.read(left_s))
    except LineGoneError:
        return "refused", "the port went away while it was asked"
    finally:
        line.close()
    return said(sight)


def said(sight: FirstSight) -> tuple[str, str]:
    """Kind and words for what was seen after asking."""
    who = sight.identity
    if who is None:
        return ("other", sight.seen()) if sight.bytes_seen else ("silent", "no answer: no Slipring board, or no power")
    name = " ".join(
        part for part in ("Slipring board", who.model, who.serial, who.firmware and f"firmware {who.firmware}") if part
    )
    name = "".join(character for character in name if character.isprintable())  # it may go to a terminal
    refused = sight.judge(time.monotonic())
    return "board", f"{name}. {refused.text}" if refused.state == "refused" else name


def _described(text: str | None) -> str:
    return "" if text in (None, "n/a") else str(text)


def _stable_names() -> dict[str, str]:
    try:
        return {os.path.realpath(link): str(link) for link in BY_ID.iterdir()}
    except OSError:
        return {}
