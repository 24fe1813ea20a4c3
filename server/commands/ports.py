"""`slipring ports`: the serial ports of this PC and what each says."""

import json
from argparse import Namespace
from dataclasses import asdict

from server.commands.streams import say, write
from server.ingest.found_ports import PortSearch


def run(chosen: Namespace) -> int:
    ports = PortSearch(chosen.look).found()
    if not ports:
        say("No serial port was found on this PC. Plug the board in, or try slipring serve --demo.")
    for port in ports:
        said = (
            json.dumps(asdict(port))
            if chosen.json
            else "\t".join((port.stable or port.port, port.says, port.description))
        )
        write(f"{said}\n".encode(errors="replace"))
    return 0
