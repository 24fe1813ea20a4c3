"""`slipring sessions`: which browsers and devices may come in; --end NUMBER ends one."""

import json
from argparse import Namespace
from datetime import datetime
from typing import Any

from server.commands.asking import AskError, Asking, service_url
from server.commands.streams import say, write


def run(chosen: Namespace) -> int:
    try:
        asking = Asking(service_url(chosen), chosen.data)
        if chosen.end is not None:
            asking.delete(f"/api/sessions/{chosen.end}")
            say(f"slipring: session {chosen.end} has ended.")
            return 0
        found: list[dict[str, Any]] = asking.get("/api/sessions")
    except AskError as error:
        say(f"slipring: {error}")
        return 1
    lines = map(json.dumps, found) if chosen.json else map(_words, found)
    write("".join(f"{line}\n" for line in lines).encode())
    return 0


def _words(session: dict[str, Any]) -> str:
    used = datetime.fromtimestamp(session["used_utc_s"]).astimezone()
    what = "browser of this PC" if session["kind"] == "browser" else "paired device"
    return f"{session['number']:4}  {session['name']}, {what}, {session['source']}, used {used:%Y-%m-%d %H:%M}"
