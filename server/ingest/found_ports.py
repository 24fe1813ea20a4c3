"""Which serial ports this PC has, and what each says when it is asked who it is.

Opening a port can restart the board behind it, so a port that a rig uses is never asked. Only Describe is sent:
whatever hangs there is asked for its name, for at most ASK_S.
"""

import os
import time
from collections.abc import Collection
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from glob import glob
from pathlib import Path

import serial
from serial.tools import list_ports

from firmware_protocol import Describe, encode_frame
from server.ingest.first_sight import FirstSight
from server.ingest.line import LineGoneError, open_line
from server.ingest.refusals import explain

ASK_S = 1.5
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


def found_ports(used: Collection[str] = (), look: Collection[str] = ()) -> list[FoundPort]:
    """All ports of this PC, each asked unless it is in `used`; takes up to ASK_S and a little. Never raises.

    `look`: patterns such as /dev/ttyACM* of the ports that may be asked; others are left alone. Empty: all.
    """
    described = _described_ports(look)
    taken = {os.path.realpath(port) for port in used}
    with ThreadPoolExecutor(ASKED_AT_ONCE) as pool:
        answers = list(pool.map(lambda port: _asked(port, taken), described))
    named = _stable_names()
    return [
        FoundPort(port, named.get(os.path.realpath(port), ""), description, *answer)
        for (port, description), answer in zip(described.items(), answers, strict=True)
    ]


def asked_port(port: str, used: Collection[str]) -> FoundPort:
    """One port, asked as `found_ports` asks; it is closed again before this returns. Never raises."""
    return FoundPort(port, "", "", *_asked(port, {os.path.realpath(each) for each in used}))


def _described_ports(look: Collection[str]) -> dict[str, str]:
    """Name and description of each port, by name. A pattern also finds what the system does not list as a port."""
    listed = {info.device: _described(info.description) for info in list_ports.comports()}
    ports = {port for pattern in look for port in glob(pattern)} if look else listed
    return {port: listed.get(port, "") for port in sorted(ports)}


def _asked(device: str, taken: set[str]) -> tuple[str, str]:
    return ("used", "in use by a rig of this service") if os.path.realpath(device) in taken else ask(device)


def ask(url: str, baud: int = BAUD) -> tuple[str, str]:
    """Kind and what to tell of it, for one port."""
    try:
        line = open_line(url, baud)
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
