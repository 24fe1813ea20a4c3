"""`slipring ports`: the serial ports of this PC and what each says."""

import json
import sys
from argparse import Namespace
from dataclasses import asdict

from server.ingest.found_ports import PortSearch


def run(chosen: Namespace) -> int:
    ports = PortSearch(chosen.look).found()
    if not ports:
        print("No serial port was found on this PC. Plug the board in, or try slipring serve --demo.", file=sys.stderr)
    for port in ports:
        if chosen.json:
            print(json.dumps(asdict(port)))
        else:
            print("\t".join((port.stable or port.port, port.says, port.description)))
    return 0
