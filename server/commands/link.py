"""`slipring link`: a new one-time link that opens the page of a running service on this PC."""

import os
from argparse import Namespace

from server.commands.asking import AskError, Asking, service_url
from server.commands.streams import say, write


def run(chosen: Namespace) -> int:
    try:
        asking = Asking(service_url(chosen), chosen.data)
        write(os.fsencode(asking.post("/api/links", {})["link"]) + b"\n")
    except AskError as error:
        say(f"slipring: {error}")
        return 1
    return 0
