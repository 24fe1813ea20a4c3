"""`slipring notify`: where alarms are sent to, how it goes, and a test of a receiver."""

import json
from argparse import Namespace
from datetime import datetime
from typing import Any
from urllib.parse import quote

from server.commands.asking import AskError, Asking, service_url
from server.commands.streams import say, write


def run(chosen: Namespace) -> int:
    if (chosen.doing == "test") != bool(chosen.name):
        say("slipring notify: write slipring notify test NAME, or slipring notify list.")
        return 2
    try:
        asking = Asking(service_url(chosen), chosen.data)
        if chosen.doing == "test":
            said = asking.post(f"/api/receivers/{quote(chosen.name, safe='')}/test", {})["said"]
            write(f"{json.dumps({'said': said}) if chosen.json else said}\n".encode())
            _say_of_cautions(asking.get("/api/receivers"))
            return 0
        found: dict[str, Any] = asking.get("/api/receivers")
    except AskError as error:
        say(f"slipring: {error}")
        return 1
    lines = map(json.dumps if chosen.json else _words, found["receivers"])
    write("".join(f"{line}\n" for line in lines).encode())
    for trouble in (found["refusal"], found["trouble"]):
        if trouble:
            say(f"slipring: {trouble}")
    if not (found["receivers"] or found["refusal"]):
        say("slipring: no receivers are set up; server/notify/NOTIFY.md says what to write into notify.toml.")
    _say_of_cautions(found)
    return 1 if found["refusal"] else 0


def _say_of_cautions(found: dict[str, Any]) -> None:
    if found["no_cautions"]:
        rigs, name = ", ".join(found["no_cautions"]), found["receivers"][0]["name"]
        say(f'slipring: cautions of {rigs} go to nobody; write caution = "{name}" under [calling] in its settings.')


def _words(its: dict[str, Any]) -> str:
    waiting = (
        f"{its['waiting']} waiting since {_moment(its['waiting_since_utc_s'])}" if its["waiting"] else "none waiting"
    )
    sent = f"reached {_moment(its['sent_utc_s'])}" if its["sent_utc_s"] else "not reached yet"
    trouble = f"\n  {its['dropped']} messages were given up: no room was left" if its["dropped"] else ""
    trouble += f"\n  {its['error']}" if its["error"] else ""
    return f"{its['name']:16}  {its['kind']}, {its['place']}, {sent}, {waiting}\n  {its['promise']}{trouble}"


def _moment(utc_s: float) -> str:
    return f"{datetime.fromtimestamp(utc_s).astimezone():%Y-%m-%d %H:%M:%S}"
